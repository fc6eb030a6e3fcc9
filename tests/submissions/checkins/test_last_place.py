"""Students who press at the very same moment: real threads, each with a database connection of its own."""

import threading
import uuid
from collections import Counter
from collections.abc import Callable, Sequence

import pytest
from django.db import connection, connections

from submissions.checkins.services import booking as services
from submissions.checkins.services import timetable
from submissions.errors import Refused
from submissions.models import Booking, Slot
from tests import factories
from tests.submissions.checkins.conftest import make_slot, refreshed

pytestmark = pytest.mark.django_db(transaction=True)
AT_ONCE = 8
LONGEST_WAIT = 60
DONE = "done"


def at_once(*presses: Callable[[], object]) -> list[str]:
    """Run all presses together; of each, "done" or the sentence of its refusal. Anything else is an error."""
    start = threading.Barrier(len(presses))
    answers: list[str | BaseException] = [DONE] * len(presses)

    def press(place: int) -> None:
        try:
            # connected before the start, so that the presses themselves meet
            connection.ensure_connection()
            start.wait(timeout=LONGEST_WAIT)
            presses[place]()
        except Refused as refused:
            answers[place] = refused.sentence
        except BaseException as error:
            answers[place] = error
        finally:
            connections.close_all()

    threads = [threading.Thread(target=press, args=(place,)) for place in range(len(presses))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=LONGEST_WAIT)
        assert not thread.is_alive(), "a press waits for ever"
    faults = [answer for answer in answers if isinstance(answer, BaseException)]
    assert faults == []
    return [str(answer) for answer in answers]


def booking_presses(slot: Slot, seats: Sequence, assignment, at) -> list[Callable[[], object]]:
    return [
        lambda seat=seat: services.book(slot=slot, seat=seat, assignment=assignment, wants_help=False, at=at)
        for seat in seats
    ]


@pytest.mark.parametrize("turn", range(5))
def test_two_students_press_for_the_last_place_and_one_gets_it(section, slot, assignment, at, turn):
    seats = [factories.make_seat(section=section) for _ in range(2)]

    answers = at_once(*booking_presses(slot, seats, assignment, at))

    assert sorted(answers) == sorted([DONE, services.FULL])
    assert refreshed(slot).taken == 1
    assert Booking.objects.filter(slot=slot, state=Booking.State.BOOKED).count() == 1


def test_of_eight_students_three_get_three_places(band, section, assignment, at):
    slot = make_slot(band=band, sections=[section], at=at, capacity=3)
    seats = [factories.make_seat(section=section) for _ in range(AT_ONCE)]

    answers = Counter(at_once(*booking_presses(slot, seats, assignment, at)))

    assert answers == {DONE: 3, services.FULL: 5}
    assert refreshed(slot).taken == 3
    assert Booking.objects.filter(slot=slot).count() == 3


def test_one_student_pressing_on_four_devices_has_one_place(band, section, seat, assignment, at):
    slot = make_slot(band=band, sections=[section], at=at, capacity=4)

    answers = at_once(*booking_presses(slot, [seat] * 4, assignment, at))

    assert answers == [DONE] * 4
    assert refreshed(slot).taken == 1
    assert Booking.objects.count() == 1


def test_one_student_pressing_for_two_times_that_overlap_gets_one(band, section, seat, assignment, at):
    first, second = (make_slot(band=band, sections=[section], at=at) for _ in range(2))

    answers = at_once(
        lambda: services.book(slot=first, seat=seat, assignment=assignment, wants_help=False, at=at),
        lambda: services.book(slot=second, seat=seat, assignment=None, wants_help=True, at=at),
    )

    assert sum(answer == DONE for answer in answers) == 1
    assert refreshed(first).taken + refreshed(second).taken == 1


def test_two_students_who_swap_do_not_wait_for_each_other(band, section, assignment, at):
    first, second = (
        make_slot(band=band, sections=[section], at=at, hours=hours, capacity=2) for hours in (1, 2)
    )
    one, two = (
        services.book(
            slot=slot,
            seat=factories.make_seat(section=section),
            assignment=assignment,
            wants_help=False,
            at=at,
        )
        for slot in (first, second)
    )

    answers = at_once(
        lambda: services.move(booking=one, slot=second, at=at),
        lambda: services.move(booking=two, slot=first, at=at),
    )

    assert answers == [DONE, DONE]
    assert (refreshed(one).slot_id, refreshed(two).slot_id) == (second.pk, first.pk)
    assert (refreshed(first).taken, refreshed(second).taken) == (1, 1)


def test_booking_while_the_director_deletes_leaves_both_or_neither(slot, seat, assignment, at):
    answers = at_once(
        *booking_presses(slot, [seat], assignment, at), lambda: timetable.delete_slot(slot=slot)
    )

    assert answers.count(DONE) == 1
    assert Booking.objects.count() == Slot.objects.count() == (1 if answers[0] == DONE else 0)


def test_cancelling_twice_at_once_frees_one_place(band, section, assignment, at):
    slot = make_slot(band=band, sections=[section], at=at, capacity=2)
    bookings = [
        services.book(
            slot=slot,
            seat=factories.make_seat(section=section),
            assignment=assignment,
            wants_help=False,
            at=at,
        )
        for _ in range(2)
    ]

    answers = at_once(*[lambda: services.cancel(booking=bookings[0], at=at)] * 2)

    assert answers == [DONE, DONE]
    assert refreshed(slot).taken == 1


def test_a_series_sent_twice_at_once_is_made_once(band, section, at):
    name = uuid.uuid4()

    answers = at_once(
        *[lambda: make_slot(band=band, sections=[section], at=at, series=name)] * 2,
    )

    assert answers == [DONE, DONE]
    assert Slot.objects.count() == 1
