"""Check-ins in a real browser: a student picks a time, a director meets students by keys."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta

import pytest
from django.utils.timezone import now
from playwright.sync_api import Page, expect

from bandroom.people.models import Membership, Role, Seat
from submissions.checkins.services import booking, timetable
from submissions.models import Assignment, Booking, Mark, Slot, Stuck, TurnIn
from tests import factories
from tests.browser.conftest import PHONE, WIDE, PageAt

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SAVED = re.compile("^saved$")  # and not “not saved yet”


@dataclass(frozen=True, slots=True)
class Scene:
    """A sitting that began a minute ago: Ada and Odile have a time, Bruno wants help, one time is free."""

    director: Membership
    seats: tuple[Seat, ...]
    slots: tuple[Slot, ...]
    assignment: Assignment


@pytest.fixture
def scene() -> Scene:
    at = now()
    band = factories.make_band()
    section = factories.make_section(band=band, name="Low brass")
    director = factories.make_staff(band=band, role=Role.DIRECTOR)
    seats = tuple(
        factories.make_seat(
            section=section, student=factories.make_user(first_name=name), instrument=instrument
        )
        for name, instrument in (("Ada", "trombone"), ("Odile", "tuba"), ("Bruno", "baritone_tc"))
    )
    assignment = factories.make_assignment(
        band=band,
        sections=[section],
        opens_at=at - timedelta(days=2),
        due_at=at + timedelta(days=2),
        closes_at=at + timedelta(days=4),
    )
    slots = timetable.make_slots(
        band=band,
        sections=[section],
        first_starts_at=at + timedelta(minutes=10),
        minutes=5,
        count=4,
        link="https://meet.school.example/low-brass",
        passcode="two-flats-9",
        at=at,
    )
    for slot, seat in zip(slots, seats, strict=False):
        plays = seat is not seats[2]
        booking.book(
            slot=slot,
            seat=seat,
            assignment=assignment if plays else None,
            wants_help=not plays,
            at=at,
        )
    Stuck.objects.create(assignment=assignment, seat=seats[2], line="B", bar=2, at=at)
    first = slots[0]
    first.starts_at, first.ends_at = at - timedelta(minutes=1), at + timedelta(minutes=4)
    first.save(update_fields=["starts_at", "ends_at"])
    return Scene(director, seats, slots, assignment)


def test_no_page_has_axe_findings(
    page_at: PageAt, scene: Scene, assert_accessible: Callable[[Page], None]
) -> None:
    staff = page_at(WIDE, scene.director.user)
    help_slot, free = scene.slots[2:]
    for address in (
        "",
        "new/",
        f"{scene.slots[0].pk}/",
        f"{help_slot.pk}/",
        f"{free.pk}/",
        f"{free.pk}/edit/",
    ):
        staff.goto(f"/check-ins/{address}")
        if address == "new/":
            expect(staff.locator("#planned")).to_contain_text("6 times on 1 day.")
        assert_accessible(staff)
    staff.goto(f"/check-ins/{scene.slots[0].pk}/")
    staff.get_by_role("button", name="Ada is here").click()
    expect(staff.locator("#minute")).to_contain_text("Minute 1 of 5")
    assert_accessible(staff)
    staff.goto("/check-ins/")
    staff.get_by_role("button", name="Make my address").click()
    expect(staff.get_by_role("heading", name="Your calendar address")).to_be_visible()
    assert_accessible(staff)

    student = page_at(PHONE, scene.seats[1].student)
    for address in ("", "?help=1", f"{scene.slots[1].pk}/", f"{free.pk}/"):
        student.goto(f"/check-ins/{address}")
        assert_accessible(student)
    student.goto("/check-ins/")
    student.get_by_role("link", name="Move it").click()
    expect(student.get_by_role("heading", name="Move your time")).to_be_visible()
    assert_accessible(student)


def test_a_student_picks_a_time_on_a_phone_and_moves_it(page_at: PageAt, scene: Scene) -> None:
    (free,) = scene.slots[3:]
    extra = factories.make_seat(
        section=scene.seats[0].section, student=factories.make_user(first_name="Zuri")
    )
    page = page_at(PHONE, extra.student)
    page.goto(f"/check-ins/?assignment={scene.assignment.pk}")
    button = page.get_by_role("button", name="Book this time")
    expect(button).to_be_disabled()

    page.locator(f'input[name="slot"][value="{free.pk}"]').check(force=True)

    expect(page.locator("[data-pick-words]")).to_contain_text("by video")
    page.get_by_role("button", name="Book ").click()
    expect(page.get_by_role("heading", name="It is yours")).to_be_visible()
    expect(page.get_by_text("two-flats-9")).to_be_visible()
    page.wait_for_load_state()
    found = Booking.objects.get(seat=extra)
    assert (found.slot_id, found.assignment_id) == (free.pk, scene.assignment.pk)

    page.get_by_role("button", name="Cancel it").click()
    page.get_by_role("dialog").get_by_role("button", name="Cancel it").click()
    expect(page.get_by_text("is free again for others")).to_be_visible()
    found.refresh_from_db()
    assert found.state == Booking.State.CANCELLED


def test_a_director_meets_three_students_by_keys(page_at: PageAt, scene: Scene) -> None:
    """Here, full levels for both lines, return; did not come; helped: a key each."""
    ada, _, bruno = scene.seats
    page = page_at(WIDE, scene.director.user)
    page.goto(f"/check-ins/{scene.slots[0].pk}/")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Ada")

    page.keyboard.press("h")
    expect(page.locator("#minute")).to_contain_text("Minute 1 of 5")
    page.wait_for_load_state()
    page.keyboard.press("Shift+F")
    expect(page.locator("[data-said]", has_text=SAVED)).to_have_count(4)
    assert Mark.objects.filter(turn_in__seat=ada, level__value=4).count() == 4
    page.keyboard.press("Enter")

    expect(page.get_by_role("heading", level=1)).to_contain_text("Odile")
    page.wait_for_load_state()
    turn_in = TurnIn.objects.get(seat=ada)
    assert (turn_in.state, turn_in.route) == (TurnIn.State.RETURNED, TurnIn.Route.CHECK_IN)
    page.keyboard.press("x")
    expect(page.get_by_text("has not started yet")).to_be_visible()
    page.wait_for_load_state()
    Slot.objects.filter(pk=scene.slots[1].pk).update(starts_at=now() - timedelta(minutes=1))
    page.keyboard.press("x")

    expect(page.get_by_role("heading", level=1)).to_contain_text("Bruno")
    assert list(Booking.objects.order_by("pk").values_list("state", flat=True)) == [
        "came",
        "absent",
        "booked",
    ]
    expect(page.locator(".bar-light.is-on").first).to_be_visible()
    page.wait_for_load_state()
    page.keyboard.press("d")
    expect(page.get_by_text("1 place solved")).to_be_visible()
    page.wait_for_load_state()
    assert Booking.objects.get(seat=bruno).state == Booking.State.CAME
    page.keyboard.press("?")
    for words in ("Keys on this page", "Show these keys"):
        expect(page.get_by_role("dialog").get_by_text(words)).to_be_visible()


def test_marks_survive_a_lost_connection_at_a_check_in(page_at: PageAt, scene: Scene) -> None:
    page = page_at(PHONE, scene.director.user)
    page.goto(f"/check-ins/{scene.slots[0].pk}/")
    page.get_by_role("button", name="Ada is here").click()
    expect(page.locator("#minute")).to_contain_text("Minute")
    page.wait_for_load_state()

    page.context.set_offline(True)
    page.keyboard.press("3")
    expect(page.get_by_text("not saved yet").first).to_be_visible()
    assert not Mark.objects.exists()
    page.context.set_offline(False)

    expect(page.locator("[data-said]", has_text=SAVED)).to_have_count(1)
    assert Mark.objects.get().level.value == 3


def test_the_times_are_shown_while_the_form_is_filled(page_at: PageAt, scene: Scene) -> None:
    page = page_at(WIDE, scene.director.user)
    page.goto("/check-ins/new/")
    expect(page.locator("#planned")).to_contain_text("6 times on 1 day.")

    page.get_by_label("For how many weeks").fill("4")
    page.get_by_label("For how many weeks").blur()
    expect(page.locator("#planned")).to_contain_text("24 times on 4 days.")
    page.get_by_label("Minutes each").fill("0")
    page.get_by_label("Minutes each").blur()
    expect(page.locator("#planned")).to_contain_text("Choose a number from 1 to 180.")
    page.get_by_label("Minutes each").fill("10")
    page.get_by_role("button", name="Make these times").click()

    expect(page.get_by_text("24 times are open to book")).to_be_visible()
