"""On the day: here, did not come, helped; and each press taken back while nothing is lost by it."""

from datetime import timedelta

import pytest

from submissions.checkins.services import booking as booking_services
from submissions.checkins.services import meeting, timetable
from submissions.errors import Refused
from submissions.grading.services.marks import give_mark
from submissions.models import Booking, Posting, Stuck, TurnIn
from submissions.turn_ins.services import return_turn_in
from tests import factories
from tests.submissions.checkins.conftest import refreshed

pytestmark = pytest.mark.django_db


@pytest.fixture
def posting(assignment) -> Posting:
    return assignment.postings.select_related("assignment").get()


@pytest.fixture
def start(slot):
    return slot.starts_at + timedelta(minutes=1)


def turn_in_of(booking: Booking) -> TurnIn | None:
    return TurnIn.objects.filter(assignment=booking.assignment_id, seat=booking.seat_id).first()


def mark_one(turn_in: TurnIn, by, at) -> None:
    criterion = turn_in.assignment.rubric.criteria.first()
    give_mark(
        turn_in=turn_in, attempt=1, line="A", criterion=criterion, level=criterion.levels.last(), by=by, at=at
    )


def test_here_opens_what_is_to_be_marked_live(booking, slot, posting, director, start):
    meeting.is_here(booking=booking, posting=posting, by=director.user, at=start)
    meeting.is_here(booking=booking, posting=posting, by=director.user, at=start + timedelta(minutes=1))

    turn_in = turn_in_of(booking)
    assert (turn_in.state, turn_in.route) == (TurnIn.State.WAITING, TurnIn.Route.CHECK_IN)
    assert turn_in.turned_in_at == turn_in.first_in_at == start
    assert refreshed(booking).state == Booking.State.CAME
    assert refreshed(slot).opened_at == start


def test_here_for_help_alone_turns_nothing_in(slot, seat, director, at, start):
    booking = booking_services.book(slot=slot, seat=seat, assignment=None, wants_help=True, at=at)

    meeting.is_here(booking=booking, posting=None, by=director.user, at=start)

    assert refreshed(booking).state == Booking.State.CAME
    assert not TurnIn.objects.exists()


def test_did_not_come_is_no_mark_and_no_turn_in(booking, slot, start):
    meeting.did_not_come(booking=booking, at=start)
    meeting.did_not_come(booking=booking, at=start + timedelta(minutes=1))

    assert refreshed(booking).state == Booking.State.ABSENT
    assert refreshed(slot).opened_at == start
    assert not TurnIn.objects.exists()


def test_nobody_is_absent_before_it_starts(booking, slot):
    with pytest.raises(Refused, match="has not started yet"):
        meeting.did_not_come(booking=booking, at=slot.starts_at - timedelta(seconds=1))


def test_who_was_here_is_not_made_absent(booking, posting, director, start):
    meeting.is_here(booking=booking, posting=posting, by=director.user, at=start)

    with pytest.raises(Refused, match="Not here after all"):
        meeting.did_not_come(booking=booking, at=start)


def test_here_is_taken_back_while_nothing_was_marked(booking, posting, director, start):
    meeting.is_here(booking=booking, posting=posting, by=director.user, at=start)

    meeting.take_back(booking=booking, turn_in=turn_in_of(booking), by=director.user, at=start)

    assert refreshed(booking).state == Booking.State.BOOKED
    turn_in = turn_in_of(booking)
    assert (turn_in.state, turn_in.first_in_at) == (TurnIn.State.EMPTY, None)


def test_marks_stop_here_from_being_taken_back(booking, posting, director, start):
    meeting.is_here(booking=booking, posting=posting, by=director.user, at=start)
    mark_one(turn_in_of(booking), director.user, start)

    with pytest.raises(Refused, match="Marks were given here already"):
        meeting.take_back(booking=booking, turn_in=turn_in_of(booking), by=director.user, at=start)
    assert refreshed(booking).state == Booking.State.CAME
    assert turn_in_of(booking).state == TurnIn.State.WAITING


def test_another_try_of_returned_work_stays_open(booking, posting, director, start):
    meeting.is_here(booking=booking, posting=posting, by=director.user, at=start)
    return_turn_in(turn_in=turn_in_of(booking), attempt=1, by=director.user, at=start, unmarked_is_meant=True)
    Booking.objects.update(state=Booking.State.BOOKED)
    meeting.is_here(booking=booking, posting=posting, by=director.user, at=start)

    with pytest.raises(Refused, match="another try of work that came back before"):
        meeting.take_back(booking=booking, turn_in=turn_in_of(booking), by=director.user, at=start)


def test_did_not_come_is_taken_back(booking, director, start):
    meeting.did_not_come(booking=booking, at=start)
    meeting.take_back(booking=booking, turn_in=None, by=director.user, at=start)
    meeting.take_back(booking=booking, turn_in=None, by=director.user, at=start)

    assert refreshed(booking).state == Booking.State.BOOKED


def test_helped_solves_every_place_the_student_was_stuck_at_and_nobody_elses(
    booking, seat, section, assignment, at, start
):
    mine = [
        Stuck.objects.create(assignment=assignment, seat=seat, line="B", bar=bar, at=at) for bar in (1, 2)
    ]
    other = Stuck.objects.create(
        assignment=assignment, seat=factories.make_seat(section=section), line="B", bar=1, at=at
    )

    assert meeting.was_helped(booking=booking, at=start) == 2
    assert meeting.was_helped(booking=booking, at=start) == 0

    assert [refreshed(place).helped_at for place in (*mine, other)] == [start, start, None]
    assert refreshed(booking).state == Booking.State.CAME


def test_a_cancelled_time_or_booking_calls_nobody(booking, slot, director, at, start):
    timetable.cancel_slot(slot=slot, at=at)
    with pytest.raises(Refused, match="This time was cancelled"):
        meeting.is_here(booking=booking, posting=None, by=director.user, at=start)

    slot.__class__.objects.update(cancelled_at=None)
    Booking.objects.update(state=Booking.State.CANCELLED)
    with pytest.raises(Refused, match="The student cancelled"):
        meeting.did_not_come(booking=booking, at=start)
