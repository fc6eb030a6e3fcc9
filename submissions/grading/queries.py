"""What the desk reads from the database, each question once however many seats there are."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import F

from bandroom.people.models import Band
from submissions.grading.shelf.notes import ear_needed
from submissions.listening.evidence import Evidence, Verdict
from submissions.models import (
    Assignment,
    CountingTake,
    Criterion,
    Hearing,
    Level,
    Mark,
    Phrase,
    Return,
    Take,
    TurnIn,
)
from submissions.takes.heard_lines import HeardLine, ear_of, readable
from submissions.takes.services.hearing import hearings_of
from submissions.turn_ins.roster import RosterRow

#: A line the listener failed at stands before any line with notes in doubt.
COULD_NOT_BE_HEARD = 1000
#: What a page of one student needs of a take; the rest of the row is the worker's.
TAKE_FIELDS = (
    "id", "assignment_id", "seat_id", "lines", "state", "reason", "origin", "declared_at", "recorded_at",
    "tempos", "seconds", "peaks", "findings", "beat_one_seconds", "served_type", "original",
)  # fmt: skip


def ears_needed(*, assignment: Assignment) -> dict[int, int]:
    """By seat, how much of what waits asks for the director's ear; seats not listened to yet are left out.

    A line the listener failed at asks for it most of all.
    """
    hearings = (
        Hearing.objects.filter(
            state__in=(Hearing.State.DONE, Hearing.State.FAILED),
            take__counts_for__attempt=F("take__counts_for__turn_in__attempt"),
            take__counts_for__turn_in__assignment=assignment,
            take__counts_for__turn_in__state=TurnIn.State.WAITING,
        )
        .order_by("finished_at", "pk")
        .values_list("take__counts_for__turn_in__seat_id", "take__counts_for__line", "evidence", "overruled")
    )
    newest: dict[tuple[int, str], tuple[Evidence | None, Mapping[int, Verdict]]] = {}
    for seat, line, kept, overruled in hearings:
        evidence = readable(kept, line)
        if evidence is not None or (seat, line) not in newest:
            newest[seat, line] = (evidence, ear_of(overruled, line))
    found: dict[int, int] = {}
    for (seat, _), (evidence, ear) in newest.items():
        needed = COULD_NOT_BE_HEARD if evidence is None else ear_needed(evidence, ear)
        found[seat] = found.get(seat, 0) + needed
    return found


@dataclass(frozen=True, slots=True)
class StudentWork:
    """All that one student's page shows of what is in, however many attempts there were."""

    takes: tuple[Take, ...]
    counting: Mapping[tuple[int, str], Take]  # attempt and line
    marks: Mapping[tuple[int, str, int], Mark]  # attempt, line and criterion
    returns: Mapping[int, Return]  # attempt
    hearings: Mapping[
        tuple[object, str], HeardLine
    ]  # take and line; the newest that is done, else the newest


def work_of(row: RosterRow) -> StudentWork:
    """Five queries, four where nothing was ever recorded, one where nothing was ever in."""
    takes = tuple(
        Take.objects.filter(assignment_id=row.posting.assignment_id, seat=row.seat).only(*TAKE_FIELDS)
    )
    if row.turn_in is None:
        return StudentWork(takes, {}, {}, {}, _hearings(takes))
    counting = CountingTake.objects.filter(turn_in=row.turn_in)
    by_pk = {take.pk: take for take in takes}
    marks = Mark.objects.filter(turn_in=row.turn_in).select_related("level", "given_by")
    return StudentWork(
        takes=takes,
        counting={(c.attempt, c.line): by_pk[c.take_id] for c in counting if c.take_id in by_pk},
        marks={(m.attempt, m.line, m.criterion_id): m for m in marks},
        returns={r.attempt: r for r in row.turn_in.returns.select_related("returned_by")},
        hearings=_hearings(takes),
    )


def _hearings(takes: Sequence[Take]) -> dict[tuple[object, str], HeardLine]:
    found = hearings_of(takes) if takes else {}
    return {(take, line): hearing for take, lines in found.items() for line, hearing in lines.items()}


def steps_of(*, assignment: Assignment) -> dict[Criterion, list[Level]]:
    """Criteria in their order, each with its levels from low to high; one query."""
    found: dict[int, tuple[Criterion, list[Level]]] = {}
    levels = Level.objects.filter(criterion__rubric_id=assignment.rubric_id).select_related("criterion")
    for level in levels.order_by("criterion__order", "criterion_id", "value"):
        found.setdefault(level.criterion_id, (level.criterion, []))[1].append(level)
    return dict(found.values())


def phrases_of(*, band: Band) -> dict[str, list[Phrase]]:
    """By kind, every kind there."""
    found: dict[str, list[Phrase]] = {kind: [] for kind in Phrase.Kind.values}
    for phrase in Phrase.objects.filter(band=band):
        found[phrase.kind].append(phrase)
    return found
