"""Late, missing, excused and not yet are different things, and none of them is stored."""

from datetime import UTC, datetime, timedelta

import pytest

from submissions.models import Policy, Posting, TurnIn
from submissions.turn_ins.standing import Standing, is_late, standing_of

DUE = datetime(2026, 10, 9, 1, 0, tzinfo=UTC)
POSTING = Posting(opens_at=DUE - timedelta(days=3), due_at=DUE, closes_at=DUE + timedelta(days=3))
STRICT = Policy(grace_minutes=0)
SECOND = timedelta(seconds=1)


def waiting(first_in_at: datetime | None, **fields: object) -> TurnIn:
    return TurnIn(state=TurnIn.State.WAITING, first_in_at=first_in_at, **fields)


def stands(
    turn_in: TurnIn | None, *, at: datetime, booked: bool = False, policy: Policy = STRICT
) -> Standing:
    return standing_of(turn_in=turn_in, posting=POSTING, policy=policy, booked=booked, at=at)


def test_nothing_in_is_not_yet_up_to_the_deadline_and_missing_a_second_after():
    assert stands(None, at=DUE) is Standing.NOT_YET
    assert stands(None, at=DUE + SECOND) is Standing.MISSING


def test_an_emptied_turn_in_counts_as_nothing_in():
    empty = TurnIn(state=TurnIn.State.EMPTY)
    assert stands(empty, at=DUE + SECOND) is Standing.MISSING


def test_turned_in_at_the_deadline_is_waiting_and_a_second_after_is_late():
    assert stands(waiting(DUE), at=DUE + timedelta(days=1)) is Standing.WAITING
    assert stands(waiting(DUE + SECOND), at=DUE + timedelta(days=1)) is Standing.WAITING_LATE


def test_grace_minutes_after_due_still_count_as_on_time():
    policy = Policy(grace_minutes=10)
    inside, outside = waiting(DUE + timedelta(minutes=10)), waiting(DUE + timedelta(minutes=10, seconds=1))
    assert not is_late(turn_in=inside, posting=POSTING, policy=policy)
    assert is_late(turn_in=outside, posting=POSTING, policy=policy)


def test_the_phones_own_time_decides_only_where_the_school_trusts_it():
    offline = waiting(DUE + timedelta(hours=5), phone_time=DUE - timedelta(hours=1))
    assert is_late(turn_in=offline, posting=POSTING, policy=STRICT)
    assert not is_late(
        turn_in=offline, posting=POSTING, policy=Policy(grace_minutes=0, trust_phone_time=True)
    )


def test_a_phone_clock_that_runs_ahead_never_makes_a_punctual_student_late():
    ahead = waiting(DUE - timedelta(hours=1), phone_time=DUE + timedelta(days=1))
    assert not is_late(turn_in=ahead, posting=POSTING, policy=Policy(grace_minutes=0, trust_phone_time=True))


@pytest.mark.parametrize(("decision", "late"), [(True, False), (False, True)])
def test_the_directors_own_decision_on_lateness_wins(decision: bool, late: bool):
    row = waiting(
        DUE + timedelta(days=1) if decision else DUE - timedelta(days=1), counts_as_on_time=decision
    )
    assert is_late(turn_in=row, posting=POSTING, policy=STRICT) is late


def test_excused_stays_excused_whatever_the_clock_says():
    excused = TurnIn(state=TurnIn.State.EXCUSED)
    assert stands(excused, at=DUE + timedelta(days=30), booked=True) is Standing.EXCUSED


def test_a_booked_check_in_stands_as_live_until_something_is_in():
    assert stands(None, at=DUE + SECOND, booked=True) is Standing.LIVE
    assert stands(waiting(DUE), at=DUE, booked=True) is Standing.WAITING


def test_a_moved_deadline_changes_lateness_at_once():
    row = waiting(DUE + timedelta(hours=1))
    later = Posting(opens_at=POSTING.opens_at, due_at=DUE + timedelta(hours=2), closes_at=POSTING.closes_at)
    assert is_late(turn_in=row, posting=POSTING, policy=STRICT)
    assert not is_late(turn_in=row, posting=later, policy=STRICT)


def test_every_standing_has_words_and_a_sign_of_its_own():
    assert len({standing.words for standing in Standing}) == len(Standing)
    assert len({standing.sign for standing in Standing}) == len(Standing)
