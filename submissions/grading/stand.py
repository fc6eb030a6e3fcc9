"""One student on the desk: lines with their takes, marks and evidence, and the note that goes back."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta

from bandroom.people.models import Band
from exercises.models import ExerciseLine
from submissions.grading import queries
from submissions.grading.drawing import LineDrawing, bars_of, draw_line
from submissions.grading.heard import HeardInWords, HeardNote, heard_of
from submissions.grading.queries import StudentWork
from submissions.grading.scales import Scale, scale_of
from submissions.grading.services.marks import ReturnNote, note_key
from submissions.grading.shelf import words as shelf_words
from submissions.grading.shown_takes import StandTake, day_and_clock, takes_of
from submissions.listening.evidence import Verdict
from submissions.models import Allowance, Assignment, Criterion, Level, Phrase, Return, TurnIn
from submissions.turn_ins.queries import lines_of
from submissions.turn_ins.roster import RosterRow

#: The phone's clock and the server's stamp are told apart from this much on.
SAME_TIME = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class StandLine:
    line: ExerciseLine
    allowance: Allowance
    drawing: LineDrawing
    takes: tuple[StandTake, ...]
    shown: StandTake | None
    heard: HeardInWords | None
    scales: tuple[Scale, ...]

    @property
    def label(self) -> str:
        return self.line.label

    @property
    def tempo(self) -> int:
        """Quarter notes a minute that the shown take was counted off at, else what is asked for."""
        asked = self.allowance.asked
        return self.shown.take.tempo_of(self.label, asked) if self.shown else asked

    @property
    def now(self) -> HeardNote | None:
        """The note in the light."""
        if self.heard is None or self.drawing.now is None:
            return None
        return next((note for note in self.heard.notes if note.number == self.drawing.now), None)

    @property
    def others(self) -> tuple[str, ...]:
        """Worth a word besides the note in the light; what the ear found as written needs none."""
        if self.heard is None:
            return ()
        now = self.now.note if self.now else None
        return shelf_words.listing(
            [
                note.note
                for note in self.heard.worth_hearing
                if note.note is not now and note.note.ear is not Verdict.AS_WRITTEN
            ],
            self.heard.metre,
        )


@dataclass(frozen=True, slots=True)
class Earlier:
    """An attempt that went back before this one."""

    attempt: int
    returned: Return | None
    lines: tuple[tuple[str, tuple[str, ...]], ...]  # line, "Right notes 3"


@dataclass(frozen=True, slots=True)
class Stand:
    row: RosterRow
    attempt: int
    lines: tuple[StandLine, ...]
    note: ReturnNote
    note_seen: str
    returned: Return | None
    look_at: tuple[tuple[str, str], ...]
    phrases: Mapping[str, Sequence[Phrase]]
    earlier: tuple[Earlier, ...]
    is_open: bool

    @property
    def turn_in(self) -> TurnIn | None:
        return self.row.turn_in


def stand_of(
    *,
    row: RosterRow,
    assignment: Assignment,
    choice_of_takes: Mapping[str, str] | None = None,
    posted: Mapping[str, str] | None = None,
) -> Stand:
    """`choice_of_takes`: by line, the id of a take to hear instead of the one that counts.

    `posted`: what a form held that could not be kept, shown again so that nothing is lost.
    """
    lines = lines_of(assignment=assignment)
    work = queries.work_of(row)
    steps = queries.steps_of(assignment=assignment)
    attempt = row.turn_in.attempt if row.turn_in else 1
    asked = [line for line in lines if line.label in assignment.lines]
    kept = work.returns.get(attempt)
    return Stand(
        row=row,
        attempt=attempt,
        lines=tuple(
            _line(
                line,
                lines=lines,
                row=row,
                assignment=assignment,
                work=work,
                steps=steps,
                attempt=attempt,
                wanted=(choice_of_takes or {}).get(line.label, ""),
                posted=posted,
            )
            for line in asked
        ),
        note=_note(kept, posted or {}),
        note_seen=note_key(kept),
        returned=kept if kept and kept.returned_at else None,
        look_at=tuple(
            (f"{line.label}{bar}", f"Line {line.label}, bar {bar}") for line in asked for bar in bars_of(line)
        ),
        phrases=queries.phrases_of(band=assignment.band),
        earlier=tuple(_earlier(work, assignment, steps, number) for number in range(1, attempt)),
        is_open=row.turn_in is not None and row.turn_in.state == TurnIn.State.WAITING,
    )


def line_of(
    *, row: RosterRow, assignment: Assignment, label: str, wanted: str = "", now: int | None = None
) -> StandLine | None:
    """One line alone, for a page that is already open; None for a label that was not asked for."""
    lines = lines_of(assignment=assignment)
    line = next((line for line in lines if line.label == label and label in assignment.lines), None)
    if line is None:
        return None
    return _line(
        line,
        lines=lines,
        row=row,
        assignment=assignment,
        work=queries.work_of(row),
        steps={},
        attempt=row.turn_in.attempt if row.turn_in else 1,
        wanted=wanted,
        now=now,
    )


def both_times(row: RosterRow, band: Band) -> str:
    """ "In Wed 7:05 am; the phone says Tue 7:58 pm": what a page shows where the two differ."""
    turn_in = row.turn_in
    if turn_in is None or turn_in.turned_in_at is None:
        return ""
    stamp = day_and_clock(turn_in.turned_in_at, band)
    phone = turn_in.phone_time
    if phone is None or abs(phone - turn_in.turned_in_at) < SAME_TIME:
        return f"In {stamp}"
    return f"In {stamp}; the phone says {day_and_clock(phone, band)}"


def _line(
    line: ExerciseLine,
    *,
    lines: Sequence[ExerciseLine],
    row: RosterRow,
    assignment: Assignment,
    work: StudentWork,
    steps: Mapping[Criterion, Sequence[Level]],
    attempt: int,
    wanted: str,
    now: int | None = None,
    posted: Mapping[str, str] | None = None,
) -> StandLine:
    takes = takes_of(line.label, work=work, attempt=attempt, wanted=wanted, band=assignment.band)
    shown = next((take for take in takes if take.is_shown), None)
    heard = work.hearings.get((shown.take.pk, line.label)) if shown else None
    drawing = draw_line(
        line=line,
        lines=lines,
        assignment=assignment,
        instrument=row.seat.instrument,
        take=shown.take if shown else None,
        heard=heard,
        now=now,
    )
    allowance = assignment.allowance_of(line.label, line.tempo_bpm)
    return StandLine(
        line=line,
        allowance=allowance,
        drawing=drawing,
        takes=takes,
        shown=shown,
        heard=heard_of(
            heard,
            drawing=drawing,
            assignment=assignment,
            asked_bpm=allowance.asked,
            counted_bpm=shown.take.tempos.get(line.label) if shown else None,
        )
        if heard
        else None,
        scales=tuple(
            scale_of(
                line.label,
                criterion,
                levels,
                work.marks.get((attempt, line.label, criterion.pk)),
                posted or {},
            )
            for criterion, levels in steps.items()
        ),
    )


def _note(kept: Return | None, posted: Mapping[str, str]) -> ReturnNote:
    old = ReturnNote(kept.worked, kept.next_step, kept.look_at) if kept else ReturnNote()
    return ReturnNote(
        worked=posted.get("worked", old.worked),
        next_step=posted.get("next_step", old.next_step),
        look_at=posted.get("look_at", old.look_at),
    )


def _earlier(
    work: StudentWork, assignment: Assignment, steps: Mapping[Criterion, Sequence[Level]], attempt: int
) -> Earlier:
    lines = []
    for label in assignment.lines:
        given = []
        for criterion in steps:
            mark = work.marks.get((attempt, label, criterion.pk))
            if mark is not None:
                given.append(f"{criterion.name} {mark.level.value if mark.level else '–'}")
        lines.append((label, tuple(given)))
    return Earlier(attempt=attempt, returned=work.returns.get(attempt), lines=tuple(lines))
