""" "I'm stuck at this bar": one tap, seen by the director, taken back with another."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.utils.timezone import now

from bandroom.people.models import Band, Membership, Seat, Section, User
from submissions.models import Assignment, Booking, Posting, Slot, Stuck
from submissions.turn_ins.roster import roster
from tests import factories

pytestmark = pytest.mark.django_db
SignIn = Callable[[User], Client]


@pytest.fixture
def assignment(band: Band, section: Section) -> Assignment:
    return factories.make_assignment(band=band, sections=[section], opens_at=now() - timedelta(days=1))


@pytest.fixture
def student(seat: Seat, sign_in: SignIn) -> Client:
    return sign_in(seat.student)


def read(client: Client, url: str) -> str:
    return " ".join(client.get(url).content.decode().split())


def test_one_tap_tells_the_director_the_bar_and_offers_help(
    student: Client, assignment: Assignment, seat: Seat
):
    html = read(student, f"/work/{assignment.pk}/")
    for place in ("A-1", "A-2", "B-1", "B-2"):
        assert f'name="bar" value="{place}"' in html
    answer = student.post(f"/work/{assignment.pk}/stuck/", {"bar": "B-2"})
    assert answer["Location"] == f"/work/{assignment.pk}/#stuck"
    html = read(student, f"/work/{assignment.pk}/")
    assert "You are stuck at line B, bar 2." in html
    assert f'href="/check-ins/?assignment={assignment.pk}&amp;help=1"' in html
    (row,) = roster(assignment=assignment, at=now())
    assert row.stuck is not None
    assert (row.seat, row.stuck.line, row.stuck.bar) == (seat, "B", 2)


def test_the_next_time_for_help_is_booked_with_one_tap(
    student: Client, assignment: Assignment, seat: Seat, section: Section
):
    def slot(hours: int, **fields: object) -> Slot:
        starts = now() + timedelta(hours=hours)
        made = Slot.objects.create(
            band=section.band, starts_at=starts, ends_at=starts + timedelta(minutes=5), **fields
        )
        made.sections.add(section)
        return made

    slot(1, purpose=Slot.Purpose.TURN_IN)
    slot(2, taken=1)
    slot(3, cancelled_at=now())
    slot(-1)
    student.post(f"/work/{assignment.pk}/stuck/", {"bar": "B-2"})
    assert "Find a time for help" in read(student, f"/work/{assignment.pk}/")

    free = slot(4, purpose=Slot.Purpose.HELP)
    slot(5)
    html = read(student, f"/work/{assignment.pk}/")
    assert f'name="slot" value="{free.pk}">Get help: ' in html
    assert html.count("Get help: ") == 1

    student.post("/check-ins/book/", {"slot": str(free.pk), "wants_help": "1"})
    booking = Booking.objects.get()
    assert (booking.slot, booking.seat, booking.wants_help) == (free, seat, True)
    html = read(student, f"/work/{assignment.pk}/")
    assert "You have a time for help: " in html
    assert "Get help: " not in html


def test_on_a_step_the_bars_of_its_line_are_at_hand(student: Client, assignment: Assignment):
    html = read(student, f"/work/{assignment.pk}/steps/play/?line=B")
    assert '<details class="fold" open>' in html
    assert 'name="bar" value="B-1"' in html
    assert 'name="bar" value="A-1"' not in html


def test_the_same_bar_twice_is_once_and_four_bars_are_the_most(student: Client, assignment: Assignment):
    url = f"/work/{assignment.pk}/stuck/"
    for bar in ("A-1", "A-1", "A-2", "B-1", "B-2"):
        student.post(url, {"bar": bar})
    assert Stuck.objects.count() == 4
    Assignment.objects.get().exercise.lines.filter(label="A").update(
        score=factories.half_note_line("A") | {"bars": [*factories.half_note_line("A")["bars"]] * 2}
    )
    answer = student.post(url, {"bar": "A-4"}, follow=True)
    assert "Take one back, or book a time for help." in answer.content.decode()
    assert Stuck.objects.count() == 4


def test_it_is_taken_back_with_one_tap(student: Client, assignment: Assignment):
    student.post(f"/work/{assignment.pk}/stuck/", {"bar": "A-1", "step": "play", "line": "A"})
    row = Stuck.objects.get()
    answer = student.post(f"/work/{assignment.pk}/stuck/{row.pk}/fine/", {"step": "play", "line": "A"})
    assert answer["Location"] == f"/work/{assignment.pk}/steps/play/?line=A#stuck"
    assert not Stuck.objects.exists()


def test_what_a_director_has_helped_with_stays(student: Client, assignment: Assignment, seat: Seat):
    row = Stuck.objects.create(assignment=assignment, seat=seat, line="A", bar=1, at=now(), helped_at=now())
    student.post(f"/work/{assignment.pk}/stuck/{row.pk}/fine/")
    assert Stuck.objects.count() == 1
    assert "You are stuck" not in read(student, f"/work/{assignment.pk}/")


@pytest.mark.parametrize("sent", ["", "A", "A-0", "A-3", "C-1", "A-x", "-1", "A--1"])
def test_a_bar_that_is_not_there_is_refused(student: Client, assignment: Assignment, sent: str):
    assert student.post(f"/work/{assignment.pk}/stuck/", {"bar": sent}).status_code == 404
    assert not Stuck.objects.exists()


def test_after_closing_it_says_to_ask_in_class(student: Client, assignment: Assignment):
    Posting.objects.update(due_at=now() - timedelta(hours=1), closes_at=now() - timedelta(hours=1))
    answer = student.post(f"/work/{assignment.pk}/stuck/", {"bar": "A-1"}, follow=True)
    assert "This work is closed." in answer.content.decode()
    assert not Stuck.objects.exists()


def test_the_way_back_never_leads_out_of_the_house(student: Client, assignment: Assignment):
    answer = student.post(
        f"/work/{assignment.pk}/stuck/", {"bar": "A-1", "step": "//example.org", "line": "?x=1"}
    )
    assert answer["Location"] == f"/work/{assignment.pk}/#stuck"


def test_nobody_else_can_say_it_or_take_it_back(
    student: Client, assignment: Assignment, section: Section, director: Membership, sign_in: SignIn
):
    student.post(f"/work/{assignment.pk}/stuck/", {"bar": "A-1"})
    row = Stuck.objects.get()
    url = f"/work/{assignment.pk}/stuck/{row.pk}/fine/"
    neighbour = sign_in(factories.make_seat(section=section).student)
    stranger = sign_in(
        factories.make_seat(section=factories.make_section(band=factories.make_band())).student
    )
    assert neighbour.post(url).status_code == 302
    for client in (stranger, sign_in(director.user)):
        assert client.post(url).status_code == 404
        assert client.post(f"/work/{assignment.pk}/stuck/", {"bar": "A-2"}).status_code == 404
    assert Stuck.objects.get() == row
    assert Client().post(url).status_code == 401
    assert student.get(url).status_code == 405
    assert student.get(f"/work/{assignment.pk}/stuck/").status_code == 405
