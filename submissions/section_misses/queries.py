"""What the picture of a section reads from the database: two queries, however many players were heard."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.db.models import F, Q, QuerySet

from submissions.listening.evidence import Evidence, Verdict
from submissions.models import Assignment, Hearing, TurnIn
from submissions.takes.heard_lines import ear_of, readable

#: Turn-ins that hold something to hear; what was taken back or excused is nobody's misreading.
HOLD_PLAYING = (TurnIn.State.WAITING, TurnIn.State.RETURNED, TurnIn.State.REDO)


def _heard(assignment: Assignment, *, lines: Iterable[str], **more: Any) -> QuerySet[Hearing]:
    """Finished hearings of the takes that count for a line, of each turn-in's own attempt."""
    of_line = Q(pk__in=())
    for line in lines:
        of_line |= Q(take__counts_for__line=line, evidence__has_key=line)
    # one call: a second one would look at any line the take counts for
    return Hearing.objects.filter(
        of_line,
        state=Hearing.State.DONE,
        take__counts_for__attempt=F("take__counts_for__turn_in__attempt"),
        take__counts_for__turn_in__assignment=assignment,
        take__counts_for__turn_in__state__in=HOLD_PLAYING,
        **more,
    )


def seats_heard(*, assignment: Assignment) -> dict[str, frozenset[int]]:
    """By line, the seats that were heard."""
    found: dict[str, set[int]] = {}
    heard = _heard(assignment, lines=assignment.lines)
    pairs = heard.values_list("take__counts_for__line", "take__counts_for__turn_in__seat_id").distinct()
    for line, seat in pairs:
        found.setdefault(line, set()).add(seat)
    return {line: frozenset(seats) for line, seats in found.items()}


def evidence_of(
    *, assignment: Assignment, line: str, seats: Iterable[int]
) -> tuple[tuple[Evidence, Mapping[int, Verdict]], ...]:
    """For each seat the evidence of the newest version of the listener, and the director's ear beside it."""
    rows = (
        _heard(assignment, lines=[line], take__counts_for__turn_in__seat_id__in=list(seats))
        .order_by("queued_at", "pk")
        .values_list("take__counts_for__turn_in__seat_id", "evidence", "overruled")
    )
    newest = {
        seat: (evidence, ear_of(overruled, line))
        for seat, kept, overruled in rows
        if (evidence := readable(kept, line))
    }
    return tuple(newest[seat] for seat in sorted(newest))
