"""The moves of a turn-in, each with what it refuses."""

import uuid
from datetime import UTC, datetime, timedelta

import pytest

from bandroom.people.models import Band, Membership, Seat, Section
from submissions.errors import Refused
from submissions.models import CountingTake, Posting, Return, Take, TurnIn
from submissions.turn_ins import services as turn_ins
from tests import factories

pytestmark = pytest.mark.django_db
AT = factories.MONDAY + timedelta(days=1)


@pytest.fixture
def posting(band: Band, section: Section) -> Posting:
    return factories.make_assignment(band=band, sections=[section]).postings.get()


def make_take(seat: Seat, posting: Posting, *lines: str, state: Take.State = Take.State.DECLARED) -> Take:
    return Take.objects.create(
        id=uuid.uuid4(),
        assignment=posting.assignment,
        seat=seat,
        lines=list(lines),
        state=state,
        declared_at=AT,
        declared_bytes=1000,
        declared_sha256="0" * 64,
    )


def in_with_both(seat: Seat, posting: Posting, *, at: datetime = AT) -> TurnIn:
    takes = {label: make_take(seat, posting, label) for label in "AB"}
    return turn_ins.turn_in(seat=seat, posting=posting, takes=takes, at=at)


def test_turning_in_names_the_take_that_counts_for_each_line(seat: Seat, posting: Posting):
    row = in_with_both(seat, posting)
    assert (row.state, row.attempt, row.turned_in_at, row.first_in_at) == ("waiting", 1, AT, AT)
    assert {c.line: c.take.lines for c in row.counting.all()} == {"A": ["A"], "B": ["B"]}


def test_one_take_can_count_for_both_lines(seat: Seat, posting: Posting):
    take = make_take(seat, posting, "A", "B")
    row = turn_ins.turn_in(seat=seat, posting=posting, takes={"A": take, "B": take}, at=AT)
    assert list(row.counting.values_list("take", flat=True)) == [take.pk, take.pk]


def test_before_marking_a_new_take_replaces_its_lines_and_moves_the_stamp(seat: Seat, posting: Posting):
    in_with_both(seat, posting)
    other = CountingTake.objects.get(line="B").take_id
    again = make_take(seat, posting, "A")
    later = AT + timedelta(hours=1)
    row = turn_ins.turn_in(seat=seat, posting=posting, takes={"A": again}, at=later)
    assert (row.attempt, row.turned_in_at, row.first_in_at) == (1, later, later)
    counting = CountingTake.objects.order_by("line").values_list("line", "take")
    assert list(counting) == [("A", again.pk), ("B", other)]


def test_after_a_return_it_is_a_new_attempt_and_lateness_keeps_the_first_stamp(seat: Seat, posting: Posting):
    row = in_with_both(seat, posting)
    TurnIn.objects.filter(pk=row.pk).update(state=TurnIn.State.REDO)
    later = AT + timedelta(days=4)
    row = in_with_both(seat, posting, at=later)
    assert (row.state, row.attempt, row.turned_in_at, row.first_in_at) == ("waiting", 2, later, AT)
    assert row.counting.count() == 4


@pytest.mark.parametrize(
    ("at", "sentence"),
    [
        (
            factories.MONDAY - timedelta(seconds=1),
            "This assignment is not open yet; come back when it opens.",
        ),
        (
            factories.MONDAY + timedelta(days=7),
            "This assignment is closed; ask your director if you can still turn it in.",
        ),
    ],
)
def test_outside_the_window_nothing_is_turned_in(seat: Seat, posting: Posting, at: datetime, sentence: str):
    with pytest.raises(Refused, match=sentence):
        in_with_both(seat, posting, at=at)
    assert not TurnIn.objects.exists()


def test_the_last_instant_before_closing_is_still_open(seat: Seat, posting: Posting):
    assert in_with_both(seat, posting, at=posting.closes_at - timedelta(microseconds=1)).state == "waiting"


def test_anothers_take_an_unasked_line_and_a_broken_take_are_refused(
    seat: Seat, section: Section, posting: Posting
):
    other = factories.make_seat(section=section)
    refusals = {
        "That take is not one of line A for this assignment; choose another.": {
            "A": make_take(other, posting, "A")
        },
        "Line C is not asked for in this assignment.": {"C": make_take(seat, posting, "C")},
        "The take for line B cannot be played; record it again.": {
            "B": make_take(seat, posting, "B", state=Take.State.REFUSED)
        },
        "Choose a take for each line first, then turn in.": {},
    }
    for sentence, takes in refusals.items():
        with pytest.raises(Refused, match=sentence):
            turn_ins.turn_in(seat=seat, posting=posting, takes=takes, at=AT)
    assert not TurnIn.objects.exists()


def test_a_withdrawn_assignment_takes_nothing(seat: Seat, posting: Posting):
    posting.assignment.withdrawn_at = AT
    with pytest.raises(Refused, match="Your director took this assignment back"):
        in_with_both(seat, posting)


def test_opening_live_keeps_a_turn_in_that_already_waits(seat: Seat, posting: Posting, director: Membership):
    in_with_both(seat, posting)
    row = turn_ins.open_live(seat=seat, posting=posting, by=director.user, at=AT + timedelta(hours=2))
    assert (row.route, row.turned_in_at, row.counting.count()) == ("recording", AT, 2)


def test_opening_live_makes_a_row_to_mark_without_a_take(seat: Seat, posting: Posting, director: Membership):
    row = turn_ins.open_live(seat=seat, posting=posting, by=director.user, at=AT)
    assert (row.state, row.route, row.attempt, row.first_in_at) == ("waiting", "check_in", 1, AT)


def test_an_excuse_taken_back_goes_to_where_it_stood(seat: Seat, posting: Posting, director: Membership):
    def excuse_and_back() -> TurnIn:
        row = turn_ins.excuse(seat=seat, posting=posting, reason="in repair", by=director.user, at=AT)
        assert (row.state, row.excuse) == ("excused", "in repair")
        return turn_ins.take_back_excuse(turn_in=row, by=director.user, at=AT)

    assert excuse_and_back().state == "empty"
    in_with_both(seat, posting)
    row = excuse_and_back()
    assert (row.state, row.excuse) == ("waiting", "")
    Return.objects.create(turn_in=row, attempt=1, returned_at=datetime(2026, 10, 7, tzinfo=UTC))
    assert excuse_and_back().state == "returned"
    Return.objects.update(asks_again=True)
    assert excuse_and_back().state == "redo"


def test_an_excuse_cannot_be_taken_back_twice(seat: Seat, posting: Posting, director: Membership):
    row = turn_ins.excuse(seat=seat, posting=posting, reason="", by=director.user, at=AT)
    turn_ins.take_back_excuse(turn_in=row, by=director.user, at=AT)
    with pytest.raises(Refused, match="not excused any more"):
        turn_ins.take_back_excuse(turn_in=row, by=director.user, at=AT)
