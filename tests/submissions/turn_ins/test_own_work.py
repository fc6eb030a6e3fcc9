"""Which postings reach a student, and with which seat."""

from collections.abc import Callable
from datetime import date, timedelta

import pytest

from bandroom.people.models import Band, Membership, Seat, Section
from submissions.models import Assignment, Posting
from submissions.turn_ins import services as turn_ins
from submissions.turn_ins.own_work import own_posting, own_postings
from tests import factories

pytestmark = pytest.mark.django_db
AT = factories.MONDAY + timedelta(days=1)


def mine(seat: Seat, band: Band, assignment: Assignment, at=AT):
    return own_posting(student=seat.student, band=band, assignment_pk=assignment.pk, at=at)


def test_a_posting_to_my_section_is_mine_from_its_opening_on(seat: Seat, section: Section, band: Band):
    assignment = factories.make_assignment(band=band, sections=[section])
    assert mine(seat, band, assignment, factories.MONDAY - timedelta(seconds=1)) is None
    own = mine(seat, band, assignment, factories.MONDAY)
    assert own is not None
    assert (own.seat, own.posting, own.turn_in) == (seat, assignment.postings.get(), None)


def test_a_posting_to_another_section_or_band_is_not(seat: Seat, band: Band):
    elsewhere = factories.make_assignment(band=band, sections=[factories.make_section(band=band)])
    other = factories.make_band()
    foreign = factories.make_assignment(band=other, sections=[factories.make_section(band=other)])
    assert mine(seat, band, elsewhere) is None
    assert mine(seat, band, foreign) is None
    assert mine(seat, other, foreign) is None


def test_a_withdrawn_assignment_is_nobodys(seat: Seat, section: Section, band: Band):
    assignment = factories.make_assignment(band=band, sections=[section])
    Assignment.objects.update(withdrawn_at=AT)
    assert mine(seat, band, assignment) is None


def test_work_done_on_a_seat_that_ended_stays_with_that_seat(
    seat: Seat, section: Section, band: Band, director: Membership
):
    assignment = factories.make_assignment(band=band, sections=[section])
    posting = assignment.postings.get()
    turn_ins.open_live(seat=seat, posting=posting, by=director.user, at=AT)
    Seat.objects.filter(pk=seat.pk).update(until=date(2026, 10, 6))
    factories.make_seat(
        section=section, student=seat.student, instrument="baritone_tc", since=date(2026, 10, 7)
    )
    own = mine(seat, band, assignment)
    assert own is not None
    assert (own.seat, own.turn_in is not None) == (seat, True)


def test_in_two_sections_of_one_assignment_the_later_deadline_counts(
    seat: Seat, section: Section, band: Band
):
    second = factories.make_section(band=band)
    factories.make_seat(section=second, student=seat.student)
    assignment = factories.make_assignment(band=band, sections=[section, second])
    later = factories.MONDAY + timedelta(days=5)
    Posting.objects.filter(section=second).update(due_at=later)
    own = mine(seat, band, assignment)
    assert own is not None
    assert (own.seat.section, own.posting.due_at) == (second, later)


@pytest.mark.parametrize("postings", [1, 30])
def test_own_postings_cost_three_queries_however_many_there_are(
    seat: Seat, section: Section, band: Band, postings: int, django_assert_num_queries: Callable[..., object]
):
    exercise, rubric = factories.make_exercise(band=band), factories.make_rubric(band=band)
    for _ in range(postings):
        factories.make_assignment(band=band, sections=[section], exercise=exercise, rubric=rubric)
    with django_assert_num_queries(3):
        assert len(own_postings(student=seat.student, band=band)) == postings
