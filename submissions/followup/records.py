"""The marks of an assignment as the school's records want them: one row a student."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from submissions.followup.counting import (
    MarkedAttempt,
    MarkPlace,
    attempts_of,
    counting_attempt,
    highest_total,
)
from submissions.models import Assignment, Criterion, Mark, Return
from submissions.turn_ins.policy import policy_of
from submissions.turn_ins.roster import RosterRow, roster


@dataclass(frozen=True, slots=True)
class Record:
    row: RosterRow
    counts: MarkedAttempt | None


@dataclass(frozen=True, slots=True)
class Records:
    """All of one assignment. `places` is the order of marks in each row."""

    assignment: Assignment
    criteria: Sequence[Criterion]
    places: Sequence[MarkPlace]
    highest: int
    records: Sequence[Record]

    def place_name(self, place: MarkPlace) -> str:
        line, pk = place
        return f"{line} {next(criterion.name for criterion in self.criteria if criterion.pk == pk)}"


def records_of(*, assignment: Assignment, at: datetime) -> Records:
    """Eleven queries, however many seats there are."""
    policy = policy_of(assignment.band)
    criteria = list(assignment.rubric.criteria.prefetch_related("levels"))
    places = [(line, criterion.pk) for line in assignment.lines for criterion in criteria]
    marks: dict[int, list[Mark]] = defaultdict(list)
    for mark in Mark.objects.filter(turn_in__assignment=assignment).select_related("level"):
        marks[mark.turn_in_id].append(mark)
    returned: dict[int, set[int]] = defaultdict(set)
    for turn_in, attempt in Return.objects.filter(
        turn_in__assignment=assignment, returned_at__isnull=False
    ).values_list("turn_in", "attempt"):
        returned[turn_in].add(attempt)

    def counting(row: RosterRow) -> MarkedAttempt | None:
        if row.turn_in is None:
            return None
        attempts = attempts_of(marks=marks[row.turn_in.pk], returned=returned[row.turn_in.pk], places=places)
        return counting_attempt(attempts, redo=policy.redo)

    return Records(
        assignment=assignment,
        criteria=criteria,
        places=places,
        highest=highest_total(criteria=criteria, lines=assignment.lines),
        records=[
            Record(row=row, counts=counting(row))
            for row in roster(assignment=assignment, at=at, policy=policy)
        ],
    )
