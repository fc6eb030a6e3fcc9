"""One place, one student; twice is once; every refusal is a sentence and changes nothing."""

from datetime import timedelta

import pytest

from submissions.checkins.services import booking as services
from submissions.checkins.services import timetable
from submissions.errors import Refused
from submissions.models import Booking, Routes, Slot
from tests import factories
from tests.submissions.checkins.conftest import make_slot, refreshed

pytestmark = pytest.mark.django_db


def book(slot, seat, assignment, at, *, wants_help=False) -> Booking:
    return services.book(slot=slot, seat=seat, assignment=assignment, wants_help=wants_help, at=at)


def test_a_booking_takes_a_place(slot, booking, at):
    assert (refreshed(slot).taken, booking.state, booking.booked_at) == (1, Booking.State.BOOKED, at)


def test_the_same_booking_twice_is_one(slot, booking, seat, assignment, at):
    again = book(slot, seat, assignment, at + timedelta(minutes=1))

    assert again.pk == booking.pk
    assert refreshed(slot).taken == 1
    assert Booking.objects.count() == 1


def test_booked_again_with_another_wish_it_follows_the_newest(slot, booking, seat, assignment, at):
    again = book(slot, seat, assignment, at, wants_help=True)

    assert again.pk == booking.pk
    assert refreshed(booking).wants_help is True
    assert refreshed(slot).taken == 1


def test_a_full_time_is_refused(slot, booking, section, assignment, at):
    other = factories.make_seat(section=section)

    with pytest.raises(Refused, match="The last place at this time is taken; choose another time"):
        book(slot, other, assignment, at)
    assert refreshed(slot).taken == 1


def test_a_time_that_has_started_is_refused(slot, seat, assignment):
    with pytest.raises(Refused, match="has started already; choose a later one"):
        book(slot, seat, assignment, slot.starts_at)
    book(slot, seat, assignment, slot.starts_at - timedelta(seconds=1))


def test_a_cancelled_time_is_refused(slot, seat, assignment, at):
    timetable.cancel_slot(slot=slot, at=at)

    with pytest.raises(Refused, match="Your director cancelled this time"):
        book(slot, seat, assignment, at)


def test_a_deleted_time_is_refused(slot, seat, assignment, at):
    Slot.objects.all().delete()

    with pytest.raises(Refused, match="took this time away"):
        book(slot, seat, assignment, at)


def test_a_time_of_other_sections_is_refused(band, seat, assignment, at):
    theirs = make_slot(band=band, sections=[factories.make_section(band=band)], at=at)

    with pytest.raises(Refused, match="for other sections"):
        book(theirs, seat, assignment, at)


def test_overlapping_times_of_one_student_are_refused(band, section, booking, seat, at):
    beside = make_slot(band=band, sections=[section], at=at, hours=1, minutes=30)
    next_to = make_slot(band=band, sections=[section], at=booking.slot.ends_at, hours=0.0001)
    Slot.objects.filter(pk=next_to.pk).update(
        starts_at=booking.slot.ends_at, ends_at=booking.slot.ends_at + timedelta(minutes=5)
    )

    with pytest.raises(Refused, match="another time then: Tuesday 6 October, 4:00 pm"):
        book(beside, seat, None, at, wants_help=True)
    assert refreshed(beside).taken == 0
    book(next_to, seat, None, at, wants_help=True)  # end to start is no overlap


def test_one_time_for_an_assignment_and_one_for_help_at_once(band, section, booking, seat, assignment, at):
    second = make_slot(band=band, sections=[section], at=at, hours=2)
    third = make_slot(band=band, sections=[section], at=at, hours=3)

    with pytest.raises(Refused, match=r"a time for No\. 1, Stepping Stones already"):
        book(second, seat, assignment, at)
    book(second, seat, None, at, wants_help=True)
    with pytest.raises(Refused, match="a time for help already"):
        book(third, seat, None, at, wants_help=True)


def test_after_an_absence_or_a_cancelled_time_it_can_be_booked_again(
    band, section, slot, booking, seat, assignment, at
):
    second = make_slot(band=band, sections=[section], at=at, hours=2)
    timetable.cancel_slot(slot=slot, at=at)

    again = book(second, seat, assignment, at)
    Booking.objects.filter(pk=again.pk).update(state=Booking.State.ABSENT)
    third = book(make_slot(band=band, sections=[section], at=at, hours=3), seat, assignment, at)

    assert third.state == Booking.State.BOOKED


@pytest.mark.parametrize(
    ("purpose", "plays", "wants_help", "sentence"),
    [
        (Slot.Purpose.HELP, True, False, "for help only"),
        (Slot.Purpose.HELP, True, True, "for help only"),
        (Slot.Purpose.TURN_IN, False, True, "for turning in only"),
        (Slot.Purpose.TURN_IN, True, True, "for turning in only"),
        (Slot.Purpose.EITHER, False, False, "Say what the time is for"),
    ],
)
def test_a_time_is_booked_for_what_it_is_for(
    band, section, seat, assignment, at, purpose, plays, wants_help, sentence
):
    slot = make_slot(band=band, sections=[section], at=at, purpose=purpose)

    with pytest.raises(Refused, match=sentence):
        book(slot, seat, assignment if plays else None, at, wants_help=wants_help)
    assert refreshed(slot).taken == 0


def test_only_what_takes_check_ins_can_be_played(band, section, slot, seat, at):
    recorded = factories.make_assignment(band=band, sections=[section], routes=Routes.RECORDING)

    with pytest.raises(Refused, match="turned in by recording; book a time for help"):
        book(slot, seat, recorded, at)


def test_a_time_after_closing_is_too_late(band, section, seat, assignment, at):
    """It closes on Monday 12 October, 7 am in Chicago."""
    slot = make_slot(band=band, sections=[section], at=at, hours=24 * 6)

    with pytest.raises(Refused, match="closes Monday 12 October, 7:00 am, before this time"):
        book(slot, seat, assignment, at)


def test_an_assignment_of_other_sections_is_refused(band, section, slot, seat, at):
    theirs = factories.make_assignment(band=band, sections=[factories.make_section(band=band)])

    with pytest.raises(Refused, match="not yours to play"):
        book(slot, seat, theirs, at)


def test_moving_takes_the_new_place_and_gives_the_old_one_back(band, section, slot, booking, at):
    second = make_slot(band=band, sections=[section], at=at, hours=2)

    moved = services.move(booking=booking, slot=second, at=at + timedelta(minutes=1))

    assert (moved.pk, moved.slot_id, moved.sequence) == (booking.pk, second.pk, 1)
    assert (refreshed(slot).taken, refreshed(second).taken) == (0, 1)


def test_moving_to_an_overlapping_time_is_fine_when_it_is_ones_own(band, section, slot, booking, at):
    beside = make_slot(band=band, sections=[section], at=at, minutes=30)

    assert services.move(booking=booking, slot=beside, at=at).slot_id == beside.pk


def test_moving_to_where_it_is_changes_nothing(slot, booking, at):
    services.move(booking=booking, slot=slot, at=at)

    assert (refreshed(slot).taken, refreshed(booking).sequence) == (1, 0)


def test_when_the_new_place_is_gone_the_old_one_is_kept(band, section, slot, booking, assignment, at):
    second = make_slot(band=band, sections=[section], at=at, hours=2)
    book(second, factories.make_seat(section=section), assignment, at)

    with pytest.raises(Refused, match="last place"):
        services.move(booking=booking, slot=second, at=at)
    assert (refreshed(booking).slot_id, refreshed(slot).taken) == (slot.pk, 1)


def test_a_cancelled_booking_frees_the_place_once(slot, booking, at):
    services.cancel(booking=booking, at=at)
    services.cancel(booking=booking, at=at)

    row = refreshed(booking)
    assert (row.state, row.sequence) == (Booking.State.CANCELLED, 1)
    assert refreshed(slot).taken == 0


def test_once_it_has_started_it_is_neither_moved_nor_cancelled(band, section, slot, booking, at):
    second = make_slot(band=band, sections=[section], at=at, hours=2)

    for press in (
        lambda: services.cancel(booking=booking, at=slot.starts_at),
        lambda: services.move(booking=booking, slot=second, at=slot.starts_at),
    ):
        with pytest.raises(Refused, match="tell your director if you cannot come"):
            press()
    assert refreshed(booking).state == Booking.State.BOOKED


def test_what_the_director_cancelled_is_booked_anew_not_moved(band, section, slot, booking, at):
    timetable.cancel_slot(slot=slot, at=at)
    second = make_slot(band=band, sections=[section], at=at, hours=2)

    with pytest.raises(Refused, match="cancelled this time; book another"):
        services.move(booking=booking, slot=second, at=at)
