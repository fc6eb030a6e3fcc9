"""The strip of steps over a student's assignment, and what it says to a director.

Their order is free, and none is forced unless the director asked for it before recording: each cell is a
link, with a word for how far it went.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import StrEnum

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Seat
from exercises.music.instruments import instrument
from exercises.pages.fingerings import has_table
from submissions.models import Assignment, CountingTake, Step, StepDone, TurnIn
from submissions.turn_ins.own_work import OwnPosting
from submissions.turn_ins.standing import Standing
from submissions.working.queries import WorkItem


class Reached(StrEnum):
    """How far a step went."""

    NOT = "not"
    BEGUN = "begun"
    DONE = "done"


@dataclass(frozen=True, slots=True)
class Cell:
    """One step of the strip. `says` is a word or two, "" where nothing was done yet."""

    key: str
    name: str
    href: str
    reached: Reached
    says: str
    is_now: bool


TURN_IN_SAYS: Mapping[Standing, tuple[Reached, str]] = {
    Standing.NOT_YET: (Reached.NOT, ""),
    Standing.MISSING: (Reached.NOT, ""),
    Standing.WAITING: (Reached.DONE, gettext_noop("turned in")),
    Standing.WAITING_LATE: (Reached.DONE, gettext_noop("turned in")),
    Standing.MARKED: (Reached.DONE, gettext_noop("came back")),
    Standing.REDO: (Reached.BEGUN, Standing.REDO.words),
    Standing.EXCUSED: (Reached.DONE, Standing.EXCUSED.words),
    Standing.LIVE: (Reached.BEGUN, gettext_noop("time booked")),
}


def steps_of(player: Instrument) -> tuple[Step, ...]:
    """Steps that mean something on this instrument: a drum has no letter names and no signs."""
    if not instrument(player).pitched:
        return (Step.READY, Step.NAMES, Step.PLAY)
    return tuple(Step)


def name_of(step: Step, player: Instrument) -> str:
    """As the strip names it for this instrument."""
    if step is Step.NAMES and not instrument(player).pitched:
        return _("Count it")
    if step is Step.FINGERS and not has_table(player):
        return _("Find the bars")
    return _(step.label)


def done_of(own: OwnPosting) -> dict[Step, StepDone]:
    """One query."""
    rows = StepDone.objects.filter(assignment=own.posting.assignment_id, seat=own.seat)
    return {Step(row.step): row for row in rows}


def step_cells(own: OwnPosting, done: Mapping[Step, StepDone], *, now: str = "") -> list[Cell]:
    """The steps before a take, in order."""
    assignment, player = own.posting.assignment, Instrument(own.seat.instrument)
    return [
        Cell(
            key=step,
            name=name_of(step, player),
            href=reverse("submissions:step", args=[assignment.pk, step.value]),
            reached=reached(done.get(step)),
            says=_says(step, done.get(step), assignment),
            is_now=step.value == now,
        )
        for step in steps_of(player)
    ]


def strip(
    *,
    own: OwnPosting,
    item: WorkItem,
    may_record: bool,
    done: Mapping[Step, StepDone],
    now: str,
) -> tuple[Cell, ...]:
    """Every cell in order; one query, for the lines that count. `now` is the key of the open page."""
    assignment = own.posting.assignment
    cells = step_cells(own, done, now=now)
    whole = reverse("submissions:my-assignment", args=[assignment.pk])
    if may_record:
        counting = _counting(own)
        cells += [
            Cell(
                key=f"record-{label}",
                name=_("Record line %(line)s") % {"line": label},
                href=f"{whole}#line-{label}",
                reached=Reached.DONE if label in counting else Reached.NOT,
                says=_("turned in") if label in counting else "",
                is_now=False,
            )
            for label in assignment.lines
        ]
    how_far, says = TURN_IN_SAYS[item.standing]
    if item.lines.to_come:
        how_far, says = (Reached.BEGUN, gettext_noop("in part")) if item.lines.here else (Reached.NOT, "")
    cells.append(
        Cell(
            key="turn-in",
            name=_("Turn in") if may_record else _("Play it live"),
            href=whole if may_record else f"{whole}#live",
            reached=how_far,
            says=_(says) if says else "",
            is_now=now == "turn-in",
        )
    )
    return tuple(cells)


def owed(cells: Collection[Cell], *, assignment: Assignment) -> tuple[Cell, ...]:
    """Steps that the director wants before recording and that are not finished yet."""
    return tuple(
        cell for cell in cells if cell.key in assignment.first_steps and cell.reached is not Reached.DONE
    )


def after(cells: Collection[Cell]) -> Cell:
    """The cell that follows the open one."""
    ordered = tuple(cells)
    place = next((place for place, cell in enumerate(ordered) if cell.is_now), -1)
    return ordered[min(place + 1, len(ordered) - 1)]


def reached(row: StepDone | None) -> Reached:
    if row is None:
        return Reached.NOT
    return Reached.DONE if row.finished else Reached.BEGUN


def _says(step: Step, row: StepDone | None, assignment: Assignment) -> str:
    if row is None:
        return ""
    if row.finished:
        return _("done")
    if step is Step.READY:
        return _("begun")
    whole = [label for label in assignment.lines if row.detail.get(label, {}).get("whole")]
    return _("line %(lines)s done") % {"lines": ", ".join(whole)} if whole else _("begun")


def _counting(own: OwnPosting) -> frozenset[str]:
    """Lines whose take has been turned in and not been sent back."""
    if own.turn_in is None or own.turn_in.state in {TurnIn.State.EMPTY, TurnIn.State.REDO}:
        return frozenset()
    rows = CountingTake.objects.filter(turn_in=own.turn_in, attempt=own.turn_in.attempt)
    return frozenset(rows.values_list("line", flat=True))


def hint(*, assignment: Assignment, seat: Seat, band: Band) -> str:
    """For the director: how far the student came, in one line; "" where no step was touched. One query.

    It never says that a step is owed: the steps are free.
    """
    rows = {Step(row.step): row for row in StepDone.objects.filter(assignment=assignment, seat=seat)}
    if not rows:
        return ""
    player = Instrument(seat.instrument)
    names = {step: name_of(step, player).lower() for step in rows}
    finished = [names[step] for step in Step if step in rows and rows[step].finished]
    begun = [
        names[step] + _missed(step, rows[step]) for step in Step if step in rows and not rows[step].finished
    ]
    last = max(rows.values(), key=lambda row: row.at)
    parts = [f"{', '.join(finished)} done" if finished else "", f"begun: {'; '.join(begun)}" if begun else ""]
    said = "; ".join(part for part in parts if part)
    return f"{said}. Last {names[Step(last.step)]}, {band.local(last.at):%A}."


def _missed(step: Step, row: StepDone) -> str:
    """Where the student stands inside a step that is not finished."""
    if step is Step.READY:
        return ""
    labels = [label for label, found in sorted(row.detail.items()) if not found.get("whole")]
    return f" (line {', '.join(labels)})" if labels else ""
