"""The student's pages: each does its work, refuses the wrong method and the stranger."""

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from django.test import Client
from django.utils.timezone import now

from bandroom.people.models import Band, Membership, RecordingPermission, Role, Seat, Section, User
from bandroom.people.templatetags.look import band_time
from submissions.checkins.services import timetable
from submissions.models import Assignment, Booking, Mark, Posting, Return, Routes, Take, TurnIn
from submissions.turn_ins import services as turn_ins
from tests import factories

pytestmark = pytest.mark.django_db
SignIn = Callable[[User], Client]
HOUR = timedelta(hours=1)


@pytest.fixture
def assignment(band: Band, section: Section) -> Assignment:
    """Open since yesterday, due in two days."""
    opens = now() - timedelta(days=1)
    return factories.make_assignment(band=band, sections=[section], opens_at=opens)


@pytest.fixture
def student(seat: Seat, sign_in: SignIn) -> Client:
    return sign_in(seat.student)


def page(client: Client, url: str) -> str:
    response = client.get(url)
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


def marked_at(assignment: Assignment, seat: Seat, director: User, *, at: datetime, returned: bool) -> TurnIn:
    """Live, every criterion of both lines at level 3, returned or still on the desk."""
    row = turn_ins.open_live(seat=seat, posting=assignment.postings.get(), by=director, at=at)
    for line in "AB":
        for criterion in assignment.rubric.criteria.all():
            Mark.objects.create(
                turn_in=row,
                attempt=1,
                line=line,
                criterion=criterion,
                level=criterion.levels.get(value=3),
                given_at=at,
            )
    Return.objects.create(
        turn_in=row,
        attempt=1,
        worked="<b>Steady</b> beat",
        next_step="Name it first",
        look_at="B2",
        returned_at=at if returned else None,
        returned_by=director,
    )
    if returned:
        TurnIn.objects.filter(pk=row.pk).update(state=TurnIn.State.RETURNED)
    return row


def test_my_work_lists_what_is_due_with_how_long_is_left(student: Client, assignment: Assignment):
    html = page(student, "/work/")
    assert f'<a href="/work/{assignment.pk}/">No. 1, Stepping Stones</a>' in html
    assert "(two days left)" in html


def test_my_work_says_so_when_nothing_is_due(student: Client):
    assert "Nothing is due right now." in page(student, "/work/")


def test_what_closed_weeks_ago_moves_to_the_page_of_earlier_work(
    student: Client, band: Band, section: Section
):
    old = factories.make_assignment(band=band, sections=[section], opens_at=now() - timedelta(days=60))
    assert f"/work/{old.pk}/" not in page(student, "/work/")
    assert f"/work/{old.pk}/" in page(student, "/work/earlier/")


def test_a_booked_time_stands_with_the_work_it_is_for(
    student: Client, band: Band, section: Section, assignment: Assignment, seat: Seat
):
    early, late = timetable.make_slots(
        band=band,
        sections=[section],
        first_starts_at=now() + HOUR,
        minutes=5,
        count=2,
        place="Room 114",
        at=now(),
    )
    for slot in (late, early):
        Booking.objects.create(slot=slot, seat=seat, assignment=assignment, booked_at=now(), changed_at=now())
    when = f"You play it live: {band_time(early.starts_at, band)}. Due"
    assert when in page(student, "/work/")
    html = page(student, f"/work/{assignment.pk}/")
    assert when in html
    assert f'href="/check-ins/{early.pk}/">See or change this time</a>' in html
    assert "Choose a time" not in html


@pytest.mark.parametrize("years", [0, 36])
def test_my_work_costs_the_same_however_much_lies_behind(
    student: Client,
    band: Band,
    section: Section,
    assignment: Assignment,
    years: int,
    django_assert_num_queries: Callable[..., object],
):
    for week in range(years):
        factories.make_assignment(
            band=band,
            sections=[section],
            opens_at=now() - timedelta(weeks=9 + week),
            exercise=assignment.exercise,
            rubric=assignment.rubric,
        )
    with django_assert_num_queries(9):
        student.get("/work/")


def test_an_assignment_shows_my_part_of_both_lines_for_phone_and_desk(
    student: Client, assignment: Assignment
):
    html = page(student, f"/work/{assignment.pk}/")
    for label in "AB":
        assert html.count(f'aria-label="B♭ clarinet part, line {label}"') == 2
        assert f'href="/work/{assignment.pk}/record/{label}/"' in html
    assert 'href="/work/1/record/AB/"'.replace("/1/", f"/{assignment.pk}/") in html


def test_marks_and_words_are_seen_only_once_they_are_returned(
    student: Client, assignment: Assignment, seat: Seat, director: Membership
):
    row = marked_at(assignment, seat, director.user, at=now() - HOUR, returned=False)
    hidden = page(student, f"/work/{assignment.pk}/")
    assert "Right notes" not in hidden
    assert "Name it first" not in hidden

    TurnIn.objects.filter(pk=row.pk).update(state=TurnIn.State.RETURNED)
    Return.objects.update(returned_at=now())
    shown = page(student, f"/work/{assignment.pk}/")
    assert "&lt;b&gt;Steady&lt;/b&gt; beat" in shown
    assert "Next step, line B, bar 2" in shown
    assert shown.count("Right notes at 3") == 2


def test_the_first_look_at_what_came_back_is_noted_once(
    student: Client, assignment: Assignment, seat: Seat, director: Membership
):
    marked_at(assignment, seat, director.user, at=now() - HOUR, returned=True)
    assert "New: read what your director wrote." in page(student, "/work/")
    page(student, f"/work/{assignment.pk}/")
    first = Return.objects.get().seen_at
    page(student, f"/work/{assignment.pk}/")
    assert first is not None
    assert Return.objects.get().seen_at == first
    assert "New: read what your director wrote." not in page(student, "/work/")


def test_without_permission_to_record_the_check_in_is_offered_instead(
    student: Client, assignment: Assignment, seat: Seat
):
    Membership.objects.filter(user=seat.student).update(recording=RecordingPermission.PENDING)
    html = page(student, f"/work/{assignment.pk}/")
    assert "/record/" not in html
    assert "You turn this in live, with no recording." in html
    assert "This one is played live" in page(student, f"/work/{assignment.pk}/record/A/")


def test_a_check_in_only_assignment_has_no_recorder(student: Client, band: Band, section: Section):
    live = factories.make_assignment(
        band=band, sections=[section], opens_at=now() - HOUR, routes=Routes.CHECK_IN
    )
    assert "/record/" not in page(student, f"/work/{live.pk}/")


def test_after_closing_the_recorder_says_so(student: Client, assignment: Assignment):
    Posting.objects.update(due_at=now() - HOUR, closes_at=now() - HOUR)
    assert "This assignment is closed" in page(student, f"/work/{assignment.pk}/record/A/")
    assert "/record/" not in page(student, f"/work/{assignment.pk}/")


def test_a_refused_take_says_why(student: Client, assignment: Assignment, seat: Seat):
    Take.objects.create(
        assignment=assignment,
        seat=seat,
        lines=["A"],
        state=Take.State.REFUSED,
        reason="This file has no sound in it; record it again.",
        declared_at=now(),
        declared_bytes=1,
        declared_sha256="0" * 64,
    )
    assert "This file has no sound in it; record it again." in page(student, f"/work/{assignment.pk}/")


def test_a_take_refused_after_it_was_turned_in_does_not_pass_for_one_that_counts(
    student: Client, assignment: Assignment, seat: Seat
):
    take = Take.objects.create(
        assignment=assignment, seat=seat, lines=["A"], declared_at=now(), declared_bytes=1,
        declared_sha256="0" * 64,
    )  # fmt: skip
    turn_ins.turn_in(seat=seat, posting=assignment.postings.get(), takes={"A": take}, at=now())
    assert "this one counts" in page(student, f"/work/{assignment.pk}/")
    Take.objects.filter(pk=take.pk).update(
        state=Take.State.REFUSED, reason="This file is empty; record it again or choose another file."
    )
    html = page(student, f"/work/{assignment.pk}/")
    assert "turned in, but it cannot be played" in html
    assert "This file is empty; record it again or choose another file." in html
    assert "this one counts" not in html
    assert f"/work/{assignment.pk}/record/A/" in html


def test_a_note_with_html_in_it_is_shown_as_text(student: Client, assignment: Assignment):
    Assignment.objects.update(note="<script>alert(1)</script>")
    assert "<script>alert" not in page(student, f"/work/{assignment.pk}/")


@pytest.mark.parametrize("path", ["", "record/A/", "record/AB/"])
def test_strangers_get_404_and_visitors_the_sign_in_page(
    path: str, assignment: Assignment, seat: Seat, band: Band, director: Membership, sign_in: SignIn
):
    url = f"/work/{assignment.pk}/{path}"
    other_section = factories.make_seat(section=factories.make_section(band=band))
    other_band = factories.make_seat(section=factories.make_section(band=factories.make_band()))
    assert sign_in(seat.student).get(url).status_code == 200
    for user in (other_section.student, other_band.student, director.user):
        assert sign_in(user).get(url).status_code == 404
    assert Client().get(url).status_code == 302
    assert sign_in(seat.student).post(url).status_code == 405


@pytest.mark.parametrize("labels", ["C", "BA", "a"])
def test_there_is_no_recorder_for_lines_that_are_not_asked_for(
    student: Client, assignment: Assignment, labels: str
):
    assert student.get(f"/work/{assignment.pk}/record/{labels}/").status_code == 404


def test_staff_have_no_work_of_their_own(director: Membership, sign_in: SignIn):
    assert director.role == Role.DIRECTOR
    assert sign_in(director.user).get("/work/").status_code == 404
    assert sign_in(director.user).get("/work/earlier/").status_code == 404


def test_a_line_tells_the_page_its_tempo_bars_and_length(student: Client, assignment: Assignment):
    Assignment.objects.update(tempos={"A": 60})
    html = page(student, f"/work/{assignment.pk}/")
    assert "2 bars, 60 beats a minute" in html
