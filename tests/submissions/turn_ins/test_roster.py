"""Everybody an assignment was posted to, in a constant number of queries."""

from collections.abc import Callable
from datetime import date, timedelta

import pytest

from bandroom.people.models import Band, Membership, RecordingPermission, Section
from submissions.models import Assignment, Booking, Slot, Stuck
from submissions.turn_ins import services as turn_ins
from submissions.turn_ins.roster import count_by_standing, roster
from submissions.turn_ins.standing import Standing
from tests import factories

pytestmark = pytest.mark.django_db
AT = factories.MONDAY + timedelta(days=1)
ROSTER_QUERIES = 7


@pytest.mark.parametrize("seats", [1, 30])
def test_the_roster_costs_the_same_for_one_seat_and_for_thirty(
    band: Band, seats: int, django_assert_num_queries: Callable[..., object]
):
    sections = [factories.make_section(band=band), factories.make_section(band=band)]
    for n in range(seats):
        factories.make_seat(section=sections[n % 2])
    assignment = factories.make_assignment(band=band, sections=sections)
    assignment = Assignment.objects.select_related("band").get(pk=assignment.pk)
    with django_assert_num_queries(ROSTER_QUERIES):
        rows = roster(assignment=assignment, at=AT)
        assert [row.standing for row in rows] == [Standing.NOT_YET] * seats


def test_rows_say_standing_lateness_permission_and_where_a_student_is_stuck(
    band: Band, section: Section, director: Membership
):
    seats = [factories.make_seat(section=section) for _ in range(4)]
    silent = factories.make_seat(section=section, recording=RecordingPermission.PENDING)
    assignment = factories.make_assignment(band=band, sections=[section])
    posting = assignment.postings.get()
    turn_ins.open_live(seat=seats[0], posting=posting, by=director.user, at=AT)
    turn_ins.open_live(seat=seats[1], posting=posting, by=director.user, at=AT + timedelta(days=3))
    turn_ins.excuse(seat=seats[2], posting=posting, reason="", by=director.user, at=AT)
    slot = Slot.objects.create(
        band=band, starts_at=AT + timedelta(days=5), ends_at=AT + timedelta(days=5, minutes=5)
    )
    Booking.objects.create(slot=slot, seat=seats[3], assignment=assignment, booked_at=AT, changed_at=AT)
    Stuck.objects.create(assignment=assignment, seat=silent, line="A", bar=5, at=AT)

    rows = {row.seat: row for row in roster(assignment=assignment, at=AT + timedelta(days=4))}

    assert [rows[seat].standing for seat in [*seats, silent]] == [
        Standing.WAITING,
        Standing.WAITING_LATE,
        Standing.EXCUSED,
        Standing.LIVE,
        Standing.MISSING,
    ]
    assert [rows[seat].late for seat in seats] == [False, True, False, False]
    assert (rows[silent].may_record, rows[silent].stuck and rows[silent].stuck.bar) == (False, 5)
    assert rows[seats[0]].may_record
    assert count_by_standing(rows.values())[Standing.LIVE] == 1
    assert count_by_standing(rows.values())[Standing.REDO] == 0


def test_a_student_who_changed_instrument_in_the_week_stands_once_with_the_seat_held_when_due(
    band: Band, section: Section
):
    old = factories.make_seat(section=section, instrument="trumpet", until=date(2026, 10, 6))
    new = factories.make_seat(
        section=section, instrument="baritone_tc", student=old.student, since=date(2026, 10, 7)
    )
    assignment = factories.make_assignment(band=band, sections=[section])
    assert [row.seat for row in roster(assignment=assignment, at=AT)] == [new]


def test_a_seat_that_answered_stays_on_the_roster_after_it_ended(
    band: Band, section: Section, director: Membership
):
    seat = factories.make_seat(section=section)
    assignment = factories.make_assignment(band=band, sections=[section])
    turn_ins.open_live(seat=seat, posting=assignment.postings.get(), by=director.user, at=AT)
    seat.until = date(2026, 10, 7)
    seat.save(update_fields=["until"])
    assert [row.seat for row in roster(assignment=assignment, at=AT)] == [seat]


def test_seats_of_other_bands_and_other_sections_are_no_part_of_it(band: Band, section: Section):
    factories.make_seat(section=factories.make_section(band=factories.make_band()))
    factories.make_seat(section=factories.make_section(band=band))
    assert roster(assignment=factories.make_assignment(band=band, sections=[section]), at=AT) == ()
