"""What the desk writes on a turn-in that waits: a mark, a note, an ear's word on what was heard.

Each is one transaction that locks the turn-in's row first, so two adults at two desks take turns. A
page says what it showed (`seen`); where somebody else changed that meanwhile nothing is written and
`Changed` says so. A request sent twice, because its first answer was lost, changes nothing the second
time.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from bandroom.people.models import User
from submissions.errors import Changed, Refused
from submissions.models import Criterion, Hearing, Level, Mark, Return, TurnIn
from submissions.takes.heard_lines import heard_line
from submissions.turn_ins.services import waiting_turn_in

#: What a page keeps for "no mark" and for the deliberate mark "not yet"; a level is kept by its number.
NO_MARK, NOT_YET = "", "not_yet"
#: What an ear can decide about a written note, whatever the listener heard.
EAR = ("as_written", "other_pitch", "not_heard")


@dataclass(frozen=True, slots=True)
class Given:
    """One chosen step, as a form names it. `level` None is "not yet"."""

    line: str
    criterion: Criterion
    level: Level | None
    seen: str | None = None


@dataclass(frozen=True, slots=True)
class ReturnNote:
    """The words that go back with the marks. `look_at` is a line and a bar: "A2"."""

    worked: str = ""
    next_step: str = ""
    look_at: str = ""


def mark_key(mark: Mark | None) -> str:
    if mark is None:
        return NO_MARK
    return NOT_YET if mark.level_id is None else str(mark.level_id)


def note_key(note: Return | ReturnNote | None) -> str:
    """Short and the same for the same words; empty when nothing was written."""
    words = (note.worked, note.next_step, note.look_at) if note else ()
    if not any(words):
        return ""
    return hashlib.sha256("\x1f".join(words).encode()).hexdigest()[:16]


@transaction.atomic
def give_mark(
    *,
    turn_in: TurnIn,
    attempt: int,
    line: str,
    criterion: Criterion,
    level: Level | None,
    by: User,
    at: datetime,
    seen: str | None = None,
) -> Mark:
    """Write one mark of the attempt that waits; `level` None is "not yet".

    `seen` is the mark the page showed (`mark_key`); None skips the comparison.
    """
    row = waiting_turn_in(turn_in=turn_in, attempt=attempt)
    if line not in row.assignment.lines or criterion.rubric_id != row.assignment.rubric_id:
        raise Refused("This assignment is not judged by that criterion; open the page again.")
    if level is not None and level.criterion_id != criterion.pk:
        raise Refused(f"That level is not one of “{criterion.name}”; open the page again.")
    old = row.marks.select_related("given_by").filter(attempt=attempt, line=line, criterion=criterion).first()
    wanted = NOT_YET if level is None else str(level.pk)
    if old is not None:
        theirs = old.given_by_id != by.pk and seen is not None
        if theirs and mark_key(old) not in {seen, wanted}:
            raise Changed(
                f"{old.given_by or 'Somebody else'} marked this meanwhile. Their mark is shown; give yours "
                "again to change it.",
                now=mark_key(old),
            )
        if mark_key(old) == wanted:
            return old
    mark, _ = Mark.objects.update_or_create(
        turn_in=row,
        attempt=attempt,
        line=line,
        criterion=criterion,
        defaults={"level": level, "given_by": by, "given_at": at},
    )
    return mark


@transaction.atomic
def keep_note(*, turn_in: TurnIn, attempt: int, note: ReturnNote, seen: str | None = None) -> Return:
    """Keep the note as it is typed; nobody but the band's adults sees it until it is returned."""
    row = waiting_turn_in(turn_in=turn_in, attempt=attempt)
    old = row.returns.filter(attempt=attempt).first()
    if old is not None and seen is not None and note_key(old) not in {seen, note_key(note)}:
        raise Changed(
            "Somebody else wrote in this note meanwhile. Your words are kept on this page; open the page "
            "again to see theirs.",
            now=note_key(old),
        )
    kept, _ = Return.objects.update_or_create(
        turn_in=row,
        attempt=attempt,
        defaults={"worked": note.worked, "next_step": note.next_step, "look_at": note.look_at},
    )
    return kept


@transaction.atomic
def keep_all(
    *, turn_in: TurnIn, attempt: int, given: Sequence[Given], note: ReturnNote, by: User, at: datetime
) -> None:
    """All that a page's form holds, in one step: the way without script, and the last net before a return."""
    for step in given:
        give_mark(
            turn_in=turn_in,
            attempt=attempt,
            line=step.line,
            criterion=step.criterion,
            level=step.level,
            by=by,
            at=at,
            seen=step.seen,
        )
    keep_note(turn_in=turn_in, attempt=attempt, note=note)


@transaction.atomic
def overrule(*, hearing: Hearing, line: str, note: int, verdict: str | None) -> Hearing:
    """Keep what the director's ear says of one note beside the evidence; None takes it back."""
    row = Hearing.objects.select_for_update(of=("self",)).get(pk=hearing.pk)
    evidence = heard_line(row, line).evidence
    if evidence is None or not 0 <= note < len(evidence.notes):
        raise Refused("There is no such note in what was heard; open the page again.")
    if verdict is not None and verdict not in EAR:
        raise Refused("An ear can say: as written, other pitch, or not heard.")
    kept = {key: value for key, value in row.overruled.get(line, {}).items() if key != str(note)}
    if verdict is not None:
        kept[str(note)] = verdict
    others = {label: ear for label, ear in row.overruled.items() if label != line}
    row.overruled = others | {line: kept} if kept else others
    row.save(update_fields=["overruled"])
    return row
