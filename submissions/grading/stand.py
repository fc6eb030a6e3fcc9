"""One student on the desk: lines with their takes, marks and evidence, and the note that goes back."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from bandroom.people.models import Band
from bandroom.people.templatetags.look import band_clock, clock
from exercises.models import ExerciseLine
from exercises.music.score import Metre
from submissions.grading import queries, shelf_words
from submissions.grading.drawing import LineDrawing, bars_of, draw_line
from submissions.grading.queries import Work
from submissions.grading.services import NOT_YET, Note, mark_key, note_key
from submissions.grading.shelf import ShelfNote
from submissions.listening.evidence import Verdict
from submissions.models import Assignment, Criterion, Hearing, Level, Mark, Phrase, Return, Take, TurnIn
from submissions.preparing.findings import Finding
from submissions.roster import RosterRow

#: The phone's clock and the server's stamp are told apart from this much on.
SAME_TIME = timedelta(minutes=1)
FINDING_WORDS: Mapping[str, str] = {
    Finding.SILENT: "Nothing can be heard in this recording.",
    Finding.VERY_QUIET: "This recording is very quiet.",
    Finding.CLIPPED: "This recording is too loud in places.",
    Finding.CUT_SHORT: "The end of this recording is missing.",
    Finding.DAMAGED: "Parts of this recording could not be read.",
}
TAKE_SENTENCES: Mapping[Take.State, str] = {
    Take.State.DECLARED: "Turned in; the recording itself is still on its way from the student’s phone",
    Take.State.RECEIVED: "This take has arrived and is being prepared; open the page again in a moment",
    Take.State.PREPARING: "This take has arrived and is being prepared; open the page again in a moment",
    Take.State.READY: "This take can be played",
    Take.State.REFUSED: "This take cannot be played",
    Take.State.DELETED: "This take was deleted because the time it is kept is over",
}
NOT_YET_WORDS = "not yet: nothing to judge"


@dataclass(frozen=True, slots=True)
class Step:
    key: str
    short: str
    words: str
    is_chosen: bool


@dataclass(frozen=True, slots=True)
class Scale:
    """One criterion of one line; `seen` is the mark as the page shows it."""

    line: str
    criterion: Criterion
    steps: tuple[Step, ...]
    seen: str
    given_by: str  # only where it was another adult

    @property
    def name(self) -> str:
        return f"mark-{self.line}-{self.criterion.pk}"

    @property
    def seen_name(self) -> str:
        return f"seen-{self.line}-{self.criterion.pk}"

    @property
    def keys(self) -> str:
        top = len(self.steps) - 1
        return f"1–{top}" if top > 1 else "1"


@dataclass(frozen=True, slots=True)
class StandTake:
    """One take of a line, `number` of `of`; `counts` for the attempt that is marked now."""

    take: Take
    number: int
    of: int
    counts: bool
    is_shown: bool
    words: str

    @property
    def is_ready(self) -> bool:
        return self.take.state == Take.State.READY

    @property
    def where(self) -> str:
        """Where a take is that cannot be heard yet, or not any more."""
        reason = f": {self.take.reason}" if self.take.reason else "."
        return f"{TAKE_SENTENCES[Take.State(self.take.state)]}{reason}"

    @property
    def findings(self) -> list[str]:
        """What the check found worth saying of the recording itself."""
        return [FINDING_WORDS[code] for code in self.take.findings if code in FINDING_WORDS]


@dataclass(frozen=True, slots=True)
class HeardNote:
    """One note of the list in words, with the buttons of the director's ear."""

    note: ShelfNote
    place: str
    sentence: str

    @property
    def number(self) -> int:
        return self.note.written.number

    @property
    def verdict(self) -> str:
        return self.note.verdict.value


@dataclass(frozen=True, slots=True)
class Heard:
    """What the listener says of a line, in words; `is_coming` while it still listens."""

    metre: Metre
    is_coming: bool
    problem: str
    summary: str
    doubts: tuple[str, ...]
    facts: tuple[str, ...]
    notes: tuple[HeardNote, ...]

    @property
    def worth_hearing(self) -> tuple[HeardNote, ...]:
        return tuple(note for note in self.notes if not note.note.is_plain)


@dataclass(frozen=True, slots=True)
class StandLine:
    line: ExerciseLine
    tempo: int
    drawing: LineDrawing
    takes: tuple[StandTake, ...]
    shown: StandTake | None
    heard: Heard | None
    scales: tuple[Scale, ...]

    @property
    def label(self) -> str:
        return self.line.label

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
    note: Note
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
    lines = queries.lines_of(assignment=assignment)
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
    lines = queries.lines_of(assignment=assignment)
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
    stamp = _when(turn_in.turned_in_at, band)
    phone = turn_in.phone_time
    if phone is None or abs(phone - turn_in.turned_in_at) < SAME_TIME:
        return f"In {stamp}"
    return f"In {stamp}; the phone says {_when(phone, band)}"


def _line(
    line: ExerciseLine,
    *,
    lines: Sequence[ExerciseLine],
    row: RosterRow,
    assignment: Assignment,
    work: Work,
    steps: Mapping[Criterion, Sequence[Level]],
    attempt: int,
    wanted: str,
    now: int | None = None,
    posted: Mapping[str, str] | None = None,
) -> StandLine:
    takes = _takes(line.label, work=work, attempt=attempt, wanted=wanted, band=assignment.band)
    shown = next((take for take in takes if take.is_shown), None)
    hearing = work.hearings.get((shown.take.pk, line.label)) if shown else None
    drawing = draw_line(
        line=line,
        lines=lines,
        assignment=assignment,
        instrument=row.seat.instrument,
        take=shown.take if shown else None,
        hearing=hearing if hearing and hearing.state == Hearing.State.DONE else None,
        now=now,
    )
    tempo = assignment.tempo_of(line.label, line.tempo_bpm)
    return StandLine(
        line=line,
        tempo=tempo,
        drawing=drawing,
        takes=takes,
        shown=shown,
        heard=_heard(hearing, drawing, assignment, tempo) if hearing else None,
        scales=tuple(
            _scale(
                line.label,
                criterion,
                levels,
                work.marks.get((attempt, line.label, criterion.pk)),
                posted or {},
            )
            for criterion, levels in steps.items()
        ),
    )


def _takes(label: str, *, work: Work, attempt: int, wanted: str, band: Band) -> tuple[StandTake, ...]:
    of_line = [take for take in work.takes if label in take.lines]
    counting = work.counting.get((attempt, label))
    shown = next((take for take in of_line if str(take.pk) == wanted), counting)
    return tuple(
        StandTake(
            take=take,
            number=number,
            of=len(of_line),
            counts=take is counting,
            is_shown=take is shown,
            words=_take_words(take, number, of=len(of_line), counts=take is counting, band=band),
        )
        for number, take in enumerate(of_line, 1)
    )


def _take_words(take: Take, number: int, *, of: int, counts: bool, band: Band) -> str:
    words = [f"take {number} of {of}", _when(take.declared_at, band)]
    if take.seconds:
        words.append(clock(take.seconds))
    if take.state != Take.State.READY:
        words.append(take.get_state_display())
    if counts:
        words.append("counts")
    return ", ".join(words)


def _heard(hearing: Hearing, drawing: LineDrawing, assignment: Assignment, tempo: int) -> Heard:
    shelf = drawing.shelf
    exercise = assignment.exercise
    metre = Metre(exercise.metre_beats, exercise.metre_unit)
    problem = ""
    if hearing.state == Hearing.State.FAILED:
        problem = hearing.reason or "This take could not be listened to."
    elif hearing.state == Hearing.State.DONE and shelf is None and not drawing.problem:
        problem = "What was heard belongs to another version of this line."
    return Heard(
        metre=metre,
        is_coming=hearing.state in {Hearing.State.QUEUED, Hearing.State.RUNNING},
        problem=problem,
        summary=shelf_words.summary(shelf) if shelf else "",
        doubts=shelf_words.doubts(shelf) if shelf else (),
        facts=shelf_words.facts(shelf, metre, asked_bpm=tempo) if shelf else (),
        notes=tuple(
            HeardNote(
                note=note,
                place=shelf_words.place(note, metre),
                sentence=shelf_words.sentence(note),
            )
            for note in (shelf.notes if shelf else ())
        ),
    )


def _scale(
    line: str, criterion: Criterion, levels: Sequence[Level], mark: Mark | None, posted: Mapping[str, str]
) -> Scale:
    seen = mark_key(mark)
    picked = posted.get(f"mark-{line}-{criterion.pk}", seen)
    steps = [Step(NOT_YET, "–", NOT_YET_WORDS, picked == NOT_YET)]
    steps += [Step(str(lv.pk), str(lv.value), lv.words, picked == str(lv.pk)) for lv in levels]
    by = str(mark.given_by) if mark and mark.given_by else ""
    return Scale(line=line, criterion=criterion, steps=tuple(steps), seen=seen, given_by=by)


def _note(kept: Return | None, posted: Mapping[str, str]) -> Note:
    old = Note(kept.worked, kept.next_step, kept.look_at) if kept else Note()
    return Note(
        worked=posted.get("worked", old.worked),
        next_step=posted.get("next_step", old.next_step),
        look_at=posted.get("look_at", old.look_at),
    )


def _earlier(
    work: Work, assignment: Assignment, steps: Mapping[Criterion, Sequence[Level]], attempt: int
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


def _when(at: datetime, band: Band) -> str:
    return f"{band.local(at):%a} {band_clock(at, band)}"
