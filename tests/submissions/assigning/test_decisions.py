"""What waits for a director: to mark, and to decide."""

from datetime import timedelta

import pytest

from submissions.assigning.decisions import DecisionKind, needs_a_decision, ready_to_mark
from submissions.models import Policy, Stuck, Take, TurnIn
from tests import factories
from tests.submissions.assigning.rows import make_take, make_turn_in

pytestmark = pytest.mark.django_db
REFUSED = Take.State.REFUSED


@pytest.fixture
def undecided(band, at):
    """Decisions as (kind, student, says, others)."""

    def found(policy=None, at=at):
        return [
            (decision.kind, decision.seat, decision.says, decision.others)
            for decision in needs_a_decision(band=band, policy=policy or Policy(band=band), at=at)
        ]

    return found


# Ready to mark ----------------------------------------------------------------------------------------


def test_waiting_turn_ins_are_counted_by_assignment_and_period_the_oldest_first(band, at):
    second, fifth = (factories.make_section(band=band, period=period) for period in ("2", "5"))
    also_second = factories.make_section(band=band, period="2")
    first = factories.make_assignment(band=band, sections=[second, also_second, fifth])
    for n, section in enumerate((second, also_second, fifth)):
        make_turn_in(seat=factories.make_seat(section=section), assignment=first, at=at - timedelta(hours=n))
    marked = factories.make_seat(section=second)
    make_turn_in(seat=marked, assignment=first, state=TurnIn.State.RETURNED)
    found = [
        (entry.assignment, entry.period, entry.waiting, entry.oldest)
        for entry in ready_to_mark(band=band, at=at)
    ]
    assert found == [
        (first, "5", 1, at - timedelta(hours=2)),
        (first, "2", 2, at - timedelta(hours=1)),
    ]


def test_a_section_without_a_period_stands_by_its_name(band, at):
    section = factories.make_section(band=band, period="", name="Jazz")
    assignment = factories.make_assignment(band=band, sections=[section])
    make_turn_in(seat=factories.make_seat(section=section), assignment=assignment)
    [entry] = ready_to_mark(band=band, at=at)
    assert (entry.period, entry.section_name, entry.waiting) == ("", "Jazz", 1)


def test_withdrawn_work_last_years_and_another_bands_is_not_to_mark(band, section, seat, at):
    withdrawn = factories.make_assignment(band=band, sections=[section])
    withdrawn.withdrawn_at = at
    withdrawn.save(update_fields=["withdrawn_at"])
    old = factories.make_assignment(band=band, sections=[section])
    old.posted_at = at - timedelta(days=365)
    old.save(update_fields=["posted_at"])
    other = factories.make_section(band=factories.make_band())
    theirs = factories.make_assignment(band=other.band, sections=[other])
    make_turn_in(seat=seat, assignment=withdrawn)
    make_turn_in(seat=seat, assignment=old)
    make_turn_in(seat=factories.make_seat(section=other), assignment=theirs)
    assert ready_to_mark(band=band, at=at) == []


# Takes that cannot be played --------------------------------------------------------------------------


def test_a_take_that_cannot_be_played_needs_a_decision(seat, assignment, undecided):
    make_take(seat=seat, assignment=assignment, state=REFUSED, reason="The file is empty.")
    assert undecided() == [(DecisionKind.UNPLAYABLE, seat, "The file is empty.", 0)]


def test_it_is_asked_once_for_several_such_takes(seat, assignment, undecided):
    for minutes, reason in ((0, "The file is empty."), (5, "This is no recording.")):
        at = factories.MONDAY + timedelta(minutes=minutes)
        make_take(seat=seat, assignment=assignment, state=REFUSED, reason=reason, at=at)
    assert undecided() == [(DecisionKind.UNPLAYABLE, seat, "This is no recording.", 0)]


@pytest.mark.parametrize("state", [Take.State.READY, Take.State.DECLARED])
def test_a_better_take_sent_afterwards_settles_it(seat, assignment, undecided, state):
    make_take(seat=seat, assignment=assignment, state=REFUSED)
    make_take(seat=seat, assignment=assignment, state=state, at=factories.MONDAY + timedelta(minutes=1))
    assert undecided() == []


def test_an_earlier_good_take_does_not_settle_it(seat, assignment, undecided):
    make_take(seat=seat, assignment=assignment, at=factories.MONDAY - timedelta(minutes=1))
    make_take(seat=seat, assignment=assignment, state=REFUSED)
    assert [kind for kind, *_ in undecided()] == [DecisionKind.UNPLAYABLE]


@pytest.mark.parametrize("state", [TurnIn.State.RETURNED, TurnIn.State.REDO, TurnIn.State.EXCUSED])
def test_what_the_director_did_afterwards_settles_it(seat, assignment, undecided, state):
    make_turn_in(seat=seat, assignment=assignment, state=state)
    Take.objects.update(state=REFUSED)
    assert undecided() == []
    TurnIn.objects.update(state_changed_at=factories.MONDAY - timedelta(minutes=1))
    assert [kind for kind, *_ in undecided()] == [DecisionKind.UNPLAYABLE]


# Stuck ------------------------------------------------------------------------------------------------


def stuck(seat, assignment, *, line="A", bar=2, at=factories.MONDAY, helped_at=None):
    Stuck.objects.create(seat=seat, assignment=assignment, line=line, bar=bar, at=at, helped_at=helped_at)


def test_students_stuck_at_one_bar_stand_in_one_row(section, assignment, undecided):
    first, *others = (factories.make_seat(section=section) for _ in range(3))
    for other in others:
        stuck(other, assignment)
    stuck(first, assignment, at=factories.MONDAY - timedelta(minutes=1))
    stuck(first, assignment)
    stuck(others[0], assignment, bar=3)
    assert undecided() == [
        (DecisionKind.STUCK, first, "line A, bar 2", 2),
        (DecisionKind.STUCK, others[0], "line A, bar 3", 0),
    ]


def test_a_student_who_was_helped_is_not_stuck(seat, assignment, undecided):
    stuck(seat, assignment, helped_at=factories.MONDAY)
    assert undecided() == []


# Two clocks -------------------------------------------------------------------------------------------


@pytest.fixture
def disagreeing(seat, assignment):
    """Arrived an hour after due; the phone says an hour before."""
    due = assignment.postings.get().due_at
    turn_in = make_turn_in(seat=seat, assignment=assignment, at=due + timedelta(hours=1))
    turn_in.phone_time = due - timedelta(hours=1)
    turn_in.save(update_fields=["phone_time"])
    return turn_in


def test_two_clocks_that_disagree_about_late_need_a_decision(disagreeing, undecided):
    assert undecided() == [(DecisionKind.TWO_CLOCKS, disagreeing.seat, "", 0)]


@pytest.mark.parametrize("decision", [True, False])
def test_a_decision_on_lateness_settles_it(disagreeing, undecided, decision):
    disagreeing.counts_as_on_time = decision
    disagreeing.save(update_fields=["counts_as_on_time"])
    assert undecided() == []


def test_a_school_that_trusts_the_phone_has_decided_already(band, disagreeing, undecided):
    assert undecided(policy=Policy(band=band, trust_phone_time=True)) == []


def test_a_school_whose_grace_covers_it_is_not_asked(band, disagreeing, undecided):
    assert undecided(policy=Policy(band=band, grace_minutes=60)) == []
    assert len(undecided(policy=Policy(band=band, grace_minutes=59))) == 1


def test_a_phone_that_says_late_too_leaves_nothing_to_decide(disagreeing, undecided):
    disagreeing.phone_time = disagreeing.first_in_at
    disagreeing.save(update_fields=["phone_time"])
    assert undecided() == []


# How far back ----------------------------------------------------------------------------------------


def test_two_weeks_after_closing_nothing_is_asked_any_more(seat, assignment, disagreeing, undecided):
    make_take(seat=seat, assignment=assignment, state=REFUSED, at=disagreeing.first_in_at + timedelta(1))
    stuck(seat, assignment)
    closes = assignment.postings.get().closes_at
    assert len(undecided(at=closes + timedelta(days=14) - timedelta(seconds=1))) == 3
    assert undecided(at=closes + timedelta(days=14)) == []


def test_a_withdrawn_assignment_asks_nothing(seat, assignment, undecided, at):
    make_take(seat=seat, assignment=assignment, state=REFUSED)
    assignment.withdrawn_at = at
    assignment.save(update_fields=["withdrawn_at"])
    assert undecided() == []


@pytest.mark.parametrize("students", [1, 30])
def test_both_lists_take_a_fixed_number_of_queries(
    band, section, assignment, at, students, django_assert_num_queries
):
    for n in range(students):
        seat = factories.make_seat(section=section)
        stuck(seat, assignment, bar=n)
        turn_in = make_turn_in(seat=seat, assignment=assignment)
        Take.objects.filter(counts_for__turn_in=turn_in).update(state=REFUSED)
    with django_assert_num_queries(2):
        assert [entry.waiting for entry in ready_to_mark(band=band, at=at)] == [students]
    with django_assert_num_queries(3):
        found = needs_a_decision(band=band, policy=Policy(band=band), at=at)
        assert [str(decision.seat.student) and decision.assignment.exercise.title for decision in found]
    assert len(found) == 2 * students
