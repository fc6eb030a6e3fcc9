"""What the picture of a section reads from the database: two queries, however many players were heard."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.db.models import F, QuerySet

from submissions.models import Assignment, Hearing, TurnIn

#: Turn-ins that hold something to hear; what was taken back or excused is nobody's misreading.
HOLD_PLAYING = (TurnIn.State.WAITING, TurnIn.State.RETURNED, TurnIn.State.REDO)


def _heard(assignment: Assignment) -> QuerySet[Hearing]:
    """Finished hearings of the takes that count, of each turn-in's own attempt."""
    return Hearing.objects.filter(
        state=Hearing.State.DONE,
        line=F("take__counts_for__line"),
        take__counts_for__attempt=F("take__counts_for__turn_in__attempt"),
        take__counts_for__turn_in__assignment=assignment,
        take__counts_for__turn_in__state__in=HOLD_PLAYING,
    )


def seats_heard(*, assignment: Assignment) -> dict[str, frozenset[int]]:
    """By line, the seats that were heard."""
    found: dict[str, set[int]] = {}
    pairs = _heard(assignment).values_list("line", "take__counts_for__turn_in__seat_id").distinct()
    for line, seat in pairs:
        found.setdefault(line, set()).add(seat)
    return {line: frozenset(seats) for line, seats in found.items()}


def evidence_of(
    *, assignment: Assignment, line: str, seats: Iterable[int]
) -> tuple[tuple[Mapping[str, Any], Mapping[str, str]], ...]:
    """For each seat the evidence of the newest version of the listener, and the director's ear beside it."""
    rows = (
        _heard(assignment)
        .filter(line=line, take__counts_for__turn_in__seat_id__in=list(seats))
        .order_by("queued_at", "pk")
        .values_list("take__counts_for__turn_in__seat_id", "evidence", "overruled")
    )
    newest = {seat: (evidence or {}, overruled) for seat, evidence, overruled in rows}
    return tuple(newest[seat] for seat in sorted(newest))
