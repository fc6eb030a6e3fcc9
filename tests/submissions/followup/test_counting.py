"""Which attempt counts, and what it amounts to; "not yet" is never a zero."""

from submissions.followup.counting import MarkedAttempt, counting_attempt
from submissions.models import Level, Policy

BEST, LAST = Policy.Redo.BEST, Policy.Redo.LAST


def attempt(number: int, *values: int | None) -> MarkedAttempt:
    levels = {("A", n): None if value is None else Level(value=value) for n, value in enumerate(values)}
    return MarkedAttempt(number=number, levels=levels)


def test_an_attempt_with_every_level_has_their_sum():
    assert attempt(1, 4, 3, 2).total == 9


def test_not_yet_in_one_criterion_leaves_no_total_rather_than_a_lower_one():
    assert attempt(1, 4, None, 2).total is None
    assert attempt(1).total is None


def test_the_best_attempt_counts_whichever_it_was():
    first, second = attempt(1, 4, 4), attempt(2, 3, 4)
    assert counting_attempt([first, second], redo=BEST) is first
    assert counting_attempt([first, second], redo=LAST) is second


def test_of_two_equally_good_attempts_the_later_counts():
    first, second = attempt(1, 3, 4), attempt(2, 4, 3)
    assert counting_attempt([first, second], redo=BEST) is second


def test_more_criteria_reached_is_better_than_a_higher_sum_with_one_not_yet():
    first, second = attempt(1, 4, None), attempt(2, 1, 1)
    assert counting_attempt([first, second], redo=BEST) is second


def test_without_a_returned_attempt_nothing_counts():
    assert counting_attempt([], redo=BEST) is None
