"""The moves of the desk, one at a time."""

from datetime import datetime, timedelta

import pytest

from bandroom.people.models import Membership, Seat, User
from submissions.errors import Changed, Incomplete, Refused
from submissions.grading.services import marks
from submissions.grading.services.marks import ReturnNote, mark_key, note_key
from submissions.models import Assignment, Hearing, Mark, Posting, Return, TurnIn
from submissions.turn_ins import services as turn_ins
from tests import factories
from tests.submissions.grading.conftest import make_take, steps, turn_in_both
from tests.submissions.grading.evidence import evidence, make_hearing

pytestmark = pytest.mark.django_db


def give(turn_in: TurnIn, by: User, at: datetime, *, line: str = "A", value: int | None = 3, **other) -> Mark:
    criterion, levels = next(iter(steps(turn_in.assignment).items()))
    level = None if value is None else next(level for level in levels if level.value == value)
    return marks.give_mark(
        turn_in=turn_in,
        **({"attempt": 1, "line": line, "criterion": criterion, "level": level, "by": by, "at": at} | other),
    )


def give_all(turn_in: TurnIn, by: User, at: datetime) -> None:
    for criterion, levels in steps(turn_in.assignment).items():
        for line in turn_in.assignment.lines:
            give(turn_in, by, at, line=line, criterion=criterion, level=levels[-1])


def test_a_mark_is_written_with_who_gave_it_and_when(waiting: TurnIn, director: Membership, at: datetime):
    mark = give(waiting, director.user, at)
    assert (mark.attempt, mark.line, mark.level.value, mark.given_by, mark.given_at) == (
        1,
        "A",
        3,
        director.user,
        at,
    )


def test_not_yet_is_a_mark_and_no_level(waiting: TurnIn, director: Membership, at: datetime):
    mark = give(waiting, director.user, at, value=None)
    assert (mark.level, mark_key(mark)) == (None, "not_yet")


def test_a_second_mark_replaces_the_first(waiting: TurnIn, director: Membership, at: datetime):
    give(waiting, director.user, at)
    give(waiting, director.user, at, value=4)
    assert [mark.level.value for mark in waiting.marks.all()] == [4]


def test_the_same_mark_sent_twice_changes_nothing(waiting: TurnIn, director: Membership, at: datetime):
    give(waiting, director.user, at, seen="")
    give(waiting, director.user, at + timedelta(minutes=1), seen="")
    assert waiting.marks.get().given_at == at


def test_another_adults_mark_is_not_overwritten_unseen(
    waiting: TurnIn, director: Membership, other_adult: User, at: datetime
):
    theirs = give(waiting, other_adult, at, value=2, seen="")
    with pytest.raises(Changed, match="marked this meanwhile") as refused:
        give(waiting, director.user, at, value=4, seen="")
    assert refused.value.now == mark_key(theirs)
    assert waiting.marks.get() == theirs
    give(waiting, director.user, at, value=4, seen=mark_key(theirs))
    assert waiting.marks.get().level.value == 4


def test_two_adults_who_give_the_same_level_do_not_disagree(
    waiting: TurnIn, director: Membership, other_adult: User, at: datetime
):
    give(waiting, other_adult, at, seen="")
    give(waiting, director.user, at, seen="")
    assert waiting.marks.count() == 1


def test_ones_own_lost_receipt_is_no_conflict(waiting: TurnIn, director: Membership, at: datetime):
    give(waiting, director.user, at, value=2, seen="")
    assert give(waiting, director.user, at, value=4, seen="").level.value == 4


def test_a_mark_for_a_line_or_criterion_that_was_not_asked_for_is_refused(
    waiting: TurnIn, director: Membership, at: datetime
):
    foreign = factories.make_rubric(band=director.band).criteria.first()
    with pytest.raises(Refused, match="not judged"):
        give(waiting, director.user, at, line="C")
    with pytest.raises(Refused, match="not judged"):
        give(waiting, director.user, at, criterion=foreign, level=None)
    with pytest.raises(Refused, match="not one of"):
        give(waiting, director.user, at, level=foreign.levels.first())
    assert Mark.objects.count() == 0


def test_a_mark_for_an_attempt_that_is_over_is_refused(waiting: TurnIn, director: Membership, at: datetime):
    with pytest.raises(Refused, match="newer take"):
        give(waiting, director.user, at, attempt=2)


@pytest.mark.parametrize(
    ("state", "sentence"),
    [
        (TurnIn.State.RETURNED, "was returned by Imre"),
        (TurnIn.State.REDO, "sent back to play again by Imre"),
        (TurnIn.State.EXCUSED, "excused by Imre"),
        (TurnIn.State.EMPTY, "Nothing is in here yet"),
    ],
)
def test_only_what_waits_can_be_marked(
    waiting: TurnIn, director: Membership, at: datetime, state: str, sentence: str
):
    TurnIn.objects.update(state=state, state_changed_by=director.user)
    with pytest.raises(Refused, match=sentence):
        give(waiting, director.user, at)


def test_a_note_is_kept_as_a_draft(waiting: TurnIn):
    kept = marks.keep_note(turn_in=waiting, attempt=1, note=ReturnNote("Steady.", "Slower.", "A2"), seen="")
    assert (kept.worked, kept.next_step, kept.look_at, kept.returned_at) == ("Steady.", "Slower.", "A2", None)


def test_another_adults_note_is_not_overwritten_unseen(waiting: TurnIn):
    marks.keep_note(turn_in=waiting, attempt=1, note=ReturnNote("Steady."), seen="")
    with pytest.raises(Changed, match="wrote in this note") as refused:
        marks.keep_note(turn_in=waiting, attempt=1, note=ReturnNote("Clear."), seen="")
    assert refused.value.now == note_key(ReturnNote("Steady."))
    marks.keep_note(turn_in=waiting, attempt=1, note=ReturnNote("Steady."), seen="")  # the same words again
    marks.keep_note(turn_in=waiting, attempt=1, note=ReturnNote("Clear."), seen=refused.value.now)
    assert waiting.returns.get().worked == "Clear."


def test_a_return_sends_marks_and_note_back(waiting: TurnIn, director: Membership, at: datetime):
    give_all(waiting, director.user, at)
    marks.keep_note(turn_in=waiting, attempt=1, note=ReturnNote("Steady."))
    turn_ins.return_turn_in(turn_in=waiting, attempt=1, by=director.user, at=at)
    waiting.refresh_from_db()
    returned = waiting.returns.get()
    assert (waiting.state, waiting.state_changed_by) == (TurnIn.State.RETURNED, director.user)
    assert (returned.worked, returned.returned_at, returned.returned_by, returned.asks_again) == (
        "Steady.",
        at,
        director.user,
        False,
    )


def test_a_return_with_criteria_unmarked_is_refused_once(waiting: TurnIn, director: Membership, at: datetime):
    with pytest.raises(Incomplete, match="Right notes in line A and 3 more have no mark yet"):
        turn_ins.return_turn_in(turn_in=waiting, attempt=1, by=director.user, at=at)
    waiting.refresh_from_db()
    assert waiting.state == TurnIn.State.WAITING
    turn_ins.return_turn_in(turn_in=waiting, attempt=1, by=director.user, at=at, unmarked_is_meant=True)
    waiting.refresh_from_db()
    assert waiting.state == TurnIn.State.RETURNED


def test_one_mark_missing_is_named(waiting: TurnIn, director: Membership, at: datetime):
    give_all(waiting, director.user, at)
    waiting.marks.get(line="B", criterion__name="Steady rhythm").delete()
    with pytest.raises(Incomplete, match=r"^Steady rhythm in line B has no mark yet"):
        turn_ins.return_turn_in(turn_in=waiting, attempt=1, by=director.user, at=at)


def test_what_is_returned_twice_is_returned_once(
    waiting: TurnIn, director: Membership, other_adult: User, at: datetime
):
    turn_ins.ask_again(turn_in=waiting, attempt=1, by=other_adult, at=at)
    with pytest.raises(Refused, match="sent back"):
        turn_ins.ask_again(turn_in=waiting, attempt=1, by=director.user, at=at)
    assert waiting.returns.get().returned_by == other_adult


def test_asking_again_leads_to_a_new_attempt_with_marks_of_its_own(
    waiting: TurnIn, seat: Seat, posting: Posting, director: Membership, at: datetime, in_time: datetime
):
    give(waiting, director.user, at, value=2)
    turn_ins.ask_again(turn_in=waiting, attempt=1, by=director.user, at=at)
    waiting.refresh_from_db()
    assert (waiting.state, waiting.returns.get().asks_again) == (TurnIn.State.REDO, True)
    again = turn_in_both(seat=seat, posting=posting, at=in_time + timedelta(hours=3))
    assert (again.attempt, again.state) == (2, TurnIn.State.WAITING)
    give(again, director.user, at, attempt=2, value=4)
    assert sorted(waiting.marks.values_list("attempt", "level__value")) == [(1, 2), (2, 4)]


def test_a_return_can_be_taken_back_to_change_it(waiting: TurnIn, director: Membership, at: datetime):
    give_all(waiting, director.user, at)
    turn_ins.return_turn_in(turn_in=waiting, attempt=1, by=director.user, at=at)
    Return.objects.update(seen_at=at)
    turn_ins.reopen(turn_in=waiting, by=director.user, at=at)
    waiting.refresh_from_db()
    back = waiting.returns.get()
    assert (waiting.state, back.returned_at, back.seen_at) == (TurnIn.State.WAITING, None, None)
    assert waiting.marks.count() == 4
    with pytest.raises(Refused, match="not with the student any more"):
        turn_ins.reopen(turn_in=waiting, by=director.user, at=at)


def test_an_opening_by_mistake_is_undone(seat: Seat, posting: Posting, director: Membership, at: datetime):
    opened = turn_ins.open_live(seat=seat, posting=posting, by=director.user, at=at, route=TurnIn.Route.PAPER)
    assert opened.route == TurnIn.Route.PAPER
    closed = turn_ins.close_live(turn_in=opened, by=director.user, at=at)
    assert (closed.state, closed.route, closed.turned_in_at, closed.first_in_at) == (
        TurnIn.State.EMPTY,
        "",
        None,
        None,
    )


def test_an_opening_with_marks_or_a_take_stays(
    seat: Seat, posting: Posting, waiting: TurnIn, director: Membership, at: datetime
):
    with pytest.raises(Refused, match="A take was turned in here"):
        turn_ins.close_live(turn_in=waiting, by=director.user, at=at)
    second = factories.make_seat(section=seat.section)
    opened = turn_ins.open_live(seat=second, posting=posting, by=director.user, at=at)
    give(opened, director.user, at)
    with pytest.raises(Refused, match="Marks were given here already"):
        turn_ins.close_live(turn_in=opened, by=director.user, at=at)


def test_the_directors_word_on_lateness_can_be_given_and_taken_back(
    waiting: TurnIn, director: Membership, at: datetime
):
    for on_time in (True, False, None):
        row = turn_ins.decide_lateness(turn_in=waiting, on_time=on_time, by=director.user, at=at)
        assert row.counts_as_on_time is on_time


def test_nothing_in_has_no_lateness(seat: Seat, posting: Posting, director: Membership, at: datetime):
    empty = TurnIn.objects.create(
        assignment=posting.assignment, posting=posting, seat=seat, state="empty", state_changed_at=at
    )
    with pytest.raises(Refused, match="Nothing is in yet"):
        turn_ins.decide_lateness(turn_in=empty, on_time=True, by=director.user, at=at)


@pytest.fixture
def hearing(seat: Seat, assignment: Assignment, at: datetime) -> Hearing:
    take = make_take(seat=seat, assignment=assignment, at=at)
    heard = evidence(sounding=[58, 60], starts=[0, 2])
    return make_hearing(take=take, line="A", evidence=heard, queued_at=at)


def test_the_ear_is_kept_beside_the_evidence(hearing: Hearing):
    before = dict(hearing.evidence or {})
    marks.overrule(hearing=hearing, line="A", note=1, verdict="not_heard")
    row = marks.overrule(hearing=hearing, line="A", note=0, verdict="other_pitch")
    assert (row.overruled, row.evidence) == ({"A": {"0": "other_pitch", "1": "not_heard"}}, before)
    row = marks.overrule(hearing=hearing, line="A", note=1, verdict=None)
    assert row.overruled == {"A": {"0": "other_pitch"}}
    assert marks.overrule(hearing=hearing, line="A", note=0, verdict=None).overruled == {}


@pytest.mark.parametrize(("note", "verdict"), [(2, "as_written"), (-1, "as_written"), (0, "unsure")])
def test_an_ear_cannot_say_what_makes_no_sense(hearing: Hearing, note: int, verdict: str):
    with pytest.raises(Refused):
        marks.overrule(hearing=hearing, line="A", note=note, verdict=verdict)
    hearing.refresh_from_db()
    assert hearing.overruled == {}
