"""Work of students: takes, turn-ins, marks."""

from bandroom.people.models import Seat
from submissions.models import Assignment, CountingTake, Criterion, Mark, Take, TurnIn
from tests import factories


def make_take(
    *,
    seat: Seat,
    assignment: Assignment,
    lines=("A", "B"),
    at=factories.MONDAY,
    state=Take.State.READY,
    reason="",
) -> Take:
    return Take.objects.create(
        assignment=assignment,
        seat=seat,
        lines=list(lines),
        state=state,
        reason=reason,
        declared_at=at,
        declared_bytes=1000,
        declared_sha256="0" * 64,
    )


def make_turn_in(*, seat, assignment, state=TurnIn.State.WAITING, at=factories.MONDAY, lines=("A", "B")):
    """A turn-in with one take for all `lines`."""
    turn_in = TurnIn.objects.create(
        assignment=assignment,
        posting=assignment.postings.get(section=seat.section),
        seat=seat,
        state=state,
        turned_in_at=at,
        first_in_at=at,
        state_changed_at=at,
    )
    take = make_take(seat=seat, assignment=assignment, lines=lines, at=at)
    for line in lines:
        CountingTake.objects.create(turn_in=turn_in, attempt=1, line=line, take=take)
    return turn_in


def make_mark(*, turn_in, line="A"):
    criterion = Criterion.objects.filter(rubric=turn_in.assignment.rubric).first()
    return Mark.objects.create(
        turn_in=turn_in,
        attempt=1,
        line=line,
        criterion=criterion,
        level=criterion.levels.first(),
        given_at=factories.MONDAY,
    )
