"""What every page about one assignment opens: the assignment, its rows, its lines."""

from collections.abc import Iterable
from datetime import datetime

from django.db.models import F, prefetch_related_objects
from django.http import Http404
from django.shortcuts import get_object_or_404

from bandroom.people.models import Band
from exercises.models import PARTS_NEED, ExerciseLine
from submissions.models import Assignment, Mark, Policy, TurnIn
from submissions.turn_ins.roster import RosterRow, roster


def assignment_or_404(*, band: Band, pk: int) -> Assignment:
    """With its exercise, rubric and the band's policy."""
    found = Assignment.objects.select_related("exercise", "rubric", "band__policy")
    return get_object_or_404(found, band=band, pk=pk)


def rows_of(*, assignment: Assignment, at: datetime) -> tuple[RosterRow, ...]:
    policy: Policy | None = getattr(assignment.band, "policy", None)
    return roster(assignment=assignment, at=at, policy=policy or Policy(band=assignment.band))


def row_or_404(rows: Iterable[RosterRow], *, seat: int) -> RosterRow:
    for row in rows:
        if row.seat.pk == seat:
            return row
    raise Http404


def begun(*, assignment: Assignment) -> frozenset[int]:
    """Turn-ins that wait and have some mark of this attempt already."""
    marks = Mark.objects.filter(
        turn_in__assignment=assignment, turn_in__state=TurnIn.State.WAITING, attempt=F("turn_in__attempt")
    )
    return frozenset(marks.values_list("turn_in_id", flat=True).distinct())


def lines_of(*, assignment: Assignment) -> tuple[ExerciseLine, ...]:
    """All lines of the exercise, with everything that goes into their parts."""
    assignment.exercise.band = assignment.band
    prefetch_related_objects([assignment.exercise], *PARTS_NEED)
    return tuple(assignment.exercise.lines.all())
