"""The moves of the desk: a mark given, a note kept, a turn-in returned, asked for again or opened again.

Each is one transaction that locks the turn-in's row first, so two adults at two desks take turns. A
page says what it showed (`seen`); where somebody else changed that meanwhile nothing is written and
`Changed` says so. A request sent twice, because its first answer was lost, changes nothing the second
time.
"""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from bandroom.people.models import User
from submissions.errors import Refused
from submissions.grading.errors import Changed, Incomplete
from submissions.models import Criterion, Hearing, Level, Mark, Return, TurnIn

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
class Note:
    """The words that go back with the marks. `look_at` is a line and a bar: "A2"."""

    worked: str = ""
    next_step: str = ""
    look_at: str = ""


def mark_key(mark: Mark | None) -> str:
    if mark is None:
        return NO_MARK
    return NOT_YET if mark.level_id is None else str(mark.level_id)


def note_key(note: Return | Note | None) -> str:
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
    row = _waiting(turn_in=turn_in, attempt=attempt)
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
def keep_note(*, turn_in: TurnIn, attempt: int, note: Note, seen: str | None = None) -> Return:
    """Keep the note as it is typed; nobody but the band's adults sees it until it is returned."""
    row = _waiting(turn_in=turn_in, attempt=attempt)
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
    *, turn_in: TurnIn, attempt: int, given: Sequence[Given], note: Note, by: User, at: datetime
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
def return_turn_in(
    *, turn_in: TurnIn, attempt: int, by: User, at: datetime, unmarked_is_meant: bool = False
) -> TurnIn:
    """Send marks and note back. With criteria unmarked it is refused once, so that none is forgotten."""
    row = _waiting(turn_in=turn_in, attempt=attempt)
    missing = unmarked(turn_in=row)
    if missing and not unmarked_is_meant:
        raise Incomplete(_missing_sentence(missing))
    return _sent(row=row, state=TurnIn.State.RETURNED, by=by, at=at)


@transaction.atomic
def ask_again(*, turn_in: TurnIn, attempt: int, by: User, at: datetime) -> TurnIn:
    """Send the note back and ask for another take; what comes then is a new attempt with its own marks."""
    row = _waiting(turn_in=turn_in, attempt=attempt)
    return _sent(row=row, state=TurnIn.State.REDO, by=by, at=at)


@transaction.atomic
def reopen(*, turn_in: TurnIn, by: User, at: datetime) -> TurnIn:
    """Take back what was returned, to change it; the student sees it again once it is returned again."""
    row = TurnIn.objects.select_for_update(of=("self",)).get(pk=turn_in.pk)
    moved = TurnIn.objects.filter(pk=row.pk, state__in=(TurnIn.State.RETURNED, TurnIn.State.REDO)).update(
        state=TurnIn.State.WAITING, state_changed_at=at, state_changed_by=by
    )
    if not moved:
        raise Refused("This is not with the student any more; open the page again to see where it stands.")
    row.returns.filter(attempt=row.attempt).update(
        returned_at=None, returned_by=None, asks_again=False, seen_at=None
    )
    row.refresh_from_db()
    return row


@transaction.atomic
def close_live(*, turn_in: TurnIn, by: User, at: datetime) -> TurnIn:
    """Undo an opening by mistake: nothing was played, nothing marked, so nothing is in."""
    row = _waiting(turn_in=turn_in, attempt=1)
    if row.route == TurnIn.Route.RECORDING or row.counting.exists():
        raise Refused("A take was turned in here, so it stays: mark it, or ask to play again.")
    if row.marks.exists():
        raise Refused("Marks were given here already, so it stays: return it, or ask to play again.")
    row.state, row.route = TurnIn.State.EMPTY, ""
    row.turned_in_at = row.first_in_at = None
    row.state_changed_at, row.state_changed_by = at, by
    row.save()
    return row


@transaction.atomic
def decide_lateness(*, turn_in: TurnIn, on_time: bool | None, by: User, at: datetime) -> TurnIn:
    """The director's own word on lateness; None gives it back to the rule."""
    row = TurnIn.objects.select_for_update(of=("self",)).get(pk=turn_in.pk)
    if row.first_in_at is None:
        raise Refused("Nothing is in yet, so there is nothing to count as on time.")
    row.counts_as_on_time = on_time
    row.state_changed_at, row.state_changed_by = at, by
    row.save(update_fields=["counts_as_on_time", "state_changed_at", "state_changed_by"])
    return row


@transaction.atomic
def overrule(*, hearing: Hearing, note: int, verdict: str | None) -> Hearing:
    """Keep what the director's ear says of one note beside the evidence; None takes it back."""
    row = Hearing.objects.select_for_update(of=("self",)).get(pk=hearing.pk)
    heard = (row.evidence or {}).get("notes", [])
    if row.state != Hearing.State.DONE or not 0 <= note < len(heard):
        raise Refused("There is no such note in what was heard; open the page again.")
    if verdict is not None and verdict not in EAR:
        raise Refused("An ear can say: as written, other pitch, or not heard.")
    kept = {key: value for key, value in row.overruled.items() if key != str(note)}
    row.overruled = kept if verdict is None else kept | {str(note): verdict}
    row.save(update_fields=["overruled"])
    return row


def unmarked(*, turn_in: TurnIn) -> list[tuple[str, Criterion]]:
    """Line and criterion of every mark that this attempt still lacks, as they stand on the page."""
    given = set(turn_in.marks.filter(attempt=turn_in.attempt).values_list("line", "criterion_id"))
    criteria = list(turn_in.assignment.rubric.criteria.all())
    return [(line, c) for line in turn_in.assignment.lines for c in criteria if (line, c.pk) not in given]


def _waiting(*, turn_in: TurnIn, attempt: int) -> TurnIn:
    """The locked row, if this attempt still waits for marks."""
    row = (
        TurnIn.objects.select_related("assignment__rubric", "state_changed_by")
        .select_for_update(of=("self",))
        .get(pk=turn_in.pk)
    )
    if row.attempt != attempt:
        raise Refused("A newer take came in meanwhile; open the page again to hear it.")
    if row.state != TurnIn.State.WAITING:
        who = f" by {row.state_changed_by}" if row.state_changed_by else ""
        words = {
            TurnIn.State.RETURNED: f"This was returned{who}; press “Take back to change it” first.",
            TurnIn.State.REDO: f"It was sent back to play again{who}; press “Take back to change it” first.",
            TurnIn.State.EXCUSED: f"This student was excused{who}; take the excuse back first.",
            TurnIn.State.EMPTY: "Nothing is in here yet; open it as played live or on paper first.",
        }
        raise Refused(words[TurnIn.State(row.state)])
    return row


def _sent(*, row: TurnIn, state: TurnIn.State, by: User, at: datetime) -> TurnIn:
    moved = TurnIn.objects.filter(pk=row.pk, state=TurnIn.State.WAITING, attempt=row.attempt).update(
        state=state, state_changed_at=at, state_changed_by=by
    )
    if not moved:
        raise Refused("Somebody else sent this back meanwhile; open the page again to see it.")
    Return.objects.update_or_create(
        turn_in=row,
        attempt=row.attempt,
        defaults={
            "asks_again": state == TurnIn.State.REDO,
            "returned_at": at,
            "returned_by": by,
            "seen_at": None,
        },
    )
    row.refresh_from_db()
    return row


def _missing_sentence(missing: Iterable[tuple[str, Criterion]]) -> str:
    named = [f"{criterion.name} in line {line}" for line, criterion in missing]
    first = named[0] if len(named) == 1 else f"{named[0]} and {len(named) - 1} more"
    verb = "has" if len(named) == 1 else "have"
    return f"{first} {verb} no mark yet. Give the marks, or return without them."
