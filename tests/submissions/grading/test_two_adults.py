"""Two adults at two desks, at the same moment, with real connections."""

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime

import pytest
from django.db import connections

from bandroom.people.models import Membership, User
from submissions.errors import Changed, Refused
from submissions.grading.services import marks
from submissions.models import TurnIn
from submissions.turn_ins import services as turn_ins
from tests.submissions.grading.conftest import steps

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(moves: list[Callable[[], object]]) -> list[object]:
    """What each move came to: its result, or the refusal it met."""
    start = threading.Barrier(len(moves))

    def run(move: Callable[[], object]) -> object:
        try:
            start.wait()
            return move()
        except Refused as refused:
            return refused
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(moves)) as adults:
        return list(adults.map(run, moves))


def test_one_of_two_marks_given_at_once_stands_and_the_other_is_told(
    waiting: TurnIn, director: Membership, other_adult: User, at: datetime
):
    criterion, levels = next(iter(steps(waiting.assignment).items()))

    def gives(by: User, value: int) -> Callable[[], object]:
        return lambda: marks.give_mark(
            turn_in=waiting,
            attempt=1,
            line="A",
            criterion=criterion,
            level=levels[value - 1],
            by=by,
            at=at,
            seen="",
        )

    came_to = at_once([gives(director.user, 4), gives(other_adult, 2)])

    [told] = [result for result in came_to if isinstance(result, Changed)]
    [stands] = waiting.marks.all()
    assert stands in came_to
    assert told.now == str(stands.level_id)


def test_a_turn_in_returned_by_two_at_once_goes_back_once(
    waiting: TurnIn, director: Membership, other_adult: User, at: datetime
):
    def returns(by: User) -> Callable[[], object]:
        return lambda: turn_ins.return_turn_in(
            turn_in=waiting, attempt=1, by=by, at=at, unmarked_is_meant=True
        )

    came_to = at_once([returns(director.user), returns(other_adult)])

    assert sum(isinstance(result, Refused) for result in came_to) == 1
    [row] = [result for result in came_to if isinstance(result, TurnIn)]
    assert waiting.returns.get().returned_by == row.state_changed_by


def test_a_mark_given_while_it_is_returned_is_in_the_return_or_refused(
    waiting: TurnIn, director: Membership, other_adult: User, at: datetime
):
    criterion, levels = next(iter(steps(waiting.assignment).items()))
    marked, _ = at_once(
        [
            lambda: marks.give_mark(
                turn_in=waiting,
                attempt=1,
                line="A",
                criterion=criterion,
                level=levels[0],
                by=director.user,
                at=at,
            ),
            lambda: turn_ins.return_turn_in(
                turn_in=waiting, attempt=1, by=other_adult, at=at, unmarked_is_meant=True
            ),
        ]
    )
    assert waiting.marks.count() == (0 if isinstance(marked, Refused) else 1)
    waiting.refresh_from_db()
    assert waiting.state == TurnIn.State.RETURNED
