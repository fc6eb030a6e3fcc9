"""What did a file bring, and what of it cannot be kept? The common half of all readers.

A reader hands over the notes of each bar as it found them. Here they become a line that can be printed, and
everything that has no place in a line for beginners becomes a `Problem` that names bar and beat and says what
happens if the director goes on. Nothing is lost silently.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from fractions import Fraction

from exercises.music.errors import MusicError
from exercises.music.part import moved_by, to_concert
from exercises.music.pitch import Interval, Pitch
from exercises.music.score import (
    MOST_BARS,
    MOST_NOTES,
    NOTE_VALUES,
    Bar,
    Line,
    Metre,
    Note,
    beats_text,
    count_text,
)

#: A file of one exercise is small; anything larger is a mistake or an attack.
MOST_BYTES = 1_000_000
#: Lines taken from one file.
MOST_LINES = 8
LABELS = "ABCDEFGH"
SLOWEST, FASTEST = 20, 300


class ProblemKind(StrEnum):
    CHORD = "chord"
    TUPLET = "tuplet"
    LENGTH = "length"
    GRACE = "grace note"
    LYRICS = "lyrics"
    VOICES = "several voices"
    STAVES = "several staves"
    BAR_SUM = "bar does not add up"
    KEY_CHANGE = "key change"
    TIE = "tie"
    MARKS = "marks"
    REPEAT = "repeat"
    TRANSPOSED = "transposed"
    SPELLING = "spelling"
    TIMING = "timing"
    PERCUSSION = "percussion"
    PARTS = "parts"
    MICROTONE = "quarter tone"


@dataclass(frozen=True, slots=True)
class Problem:
    """Something of the file that the line cannot hold. `message` says what it is and what becomes of it.

    bar    printed bar number of the first place, None if it is the whole file or line
    beat   place in the bar in quarter notes, from 1, if known
    """

    kind: ProblemKind
    line: str
    bar: int | None
    beat: Fraction | None
    message: str


@dataclass(frozen=True, slots=True)
class ReadResult:
    """Lines in concert pitch, quarter notes a minute if the file says so, and what was not kept."""

    lines: tuple[Line, ...]
    tempo: int | None
    problems: tuple[Problem, ...]


@dataclass(slots=True)
class FoundNote:
    """A note as a file has it. `beats` may be any fraction; `fits` is False inside a tuplet."""

    pitch: Pitch | None
    beats: Fraction
    tied: bool = False
    fits: bool = True


@dataclass(frozen=True, slots=True)
class _Found:
    """Something to report, before it is known whether the first bar is a pickup."""

    kind: ProblemKind
    bar_index: int
    beat: Fraction | None
    text: str


@dataclass(slots=True)
class LineCollector:
    """Gathers one line, bar by bar, and what was wrong with it.

    to_concert  spelled interval from the notes of the file to concert pitch, if the file names one
    """

    metre: Metre
    fifths: int
    to_concert: Interval | None = None
    bars: list[list[FoundNote]] = field(default_factory=list)
    found: list[_Found] = field(default_factory=list)
    marks: dict[tuple[ProblemKind, str], list[_Found]] = field(default_factory=dict)

    def report(self, kind: ProblemKind, text: str, *, beat: Fraction | None = None) -> None:
        """A problem in the bar that is being read; `text` goes on after "Bar 2, beat 3: "."""
        self.report_at(kind, text, bar_index=len(self.bars), beat=beat)

    def report_at(self, kind: ProblemKind, text: str, *, bar_index: int, beat: Fraction | None) -> None:
        """A problem in a certain bar, counted from 0."""
        self.found.append(_Found(kind, bar_index, beat, text))

    def report_mark(self, kind: ProblemKind, what: str, *, beat: Fraction | None = None) -> None:
        """Something that can stand at many notes (lyrics, slurs): told once, with first place and count."""
        self.marks.setdefault((kind, what), []).append(_Found(kind, len(self.bars), beat, what))

    def add_bar(self, notes: Sequence[FoundNote]) -> None:
        """Take the notes of the next bar as they are; they are judged when all bars are known.

        Raises MusicError at once for more than an exercise can hold, so that no huge file is read to its end.
        """
        check_length(notes=len(notes), bars=len(self.bars))
        self.bars.append(list(notes))

    @property
    def pickup(self) -> bool:
        """Whether the first bar is a short one before bar 1."""
        if len(self.bars) < 2:
            return False
        total = _total(self.bars[0])
        return 0 < total < self.metre.quarters and bool(_values(total))

    @property
    def next_number(self) -> int:
        """Printed number of the bar that is being read."""
        return len(self.bars) + (0 if self.pickup else 1)

    def _printed_bar(self, index: int) -> Bar:
        """A bar that adds up: cut or filled, and that is said."""
        notes = self.bars[index]
        total, full = _total(notes), self.metre.quarters
        may_be_short = self.pickup and total > 0 and index in (0, len(self.bars) - 1) and bool(_values(total))
        if total > full:
            notes = self._cut(notes, index)
        elif total < full and not may_be_short:
            text = (
                f"it has {beats_text(total)}, but {self.metre} needs {beats_text(full)}. "
                f"A rest of {beats_text(full - total)} is added at its end."
            )
            self.report_at(ProblemKind.BAR_SUM, text, bar_index=index, beat=None)
            notes = [*notes, FoundNote(None, full - total)]
        return tuple(self._printable(notes, index))

    def _cut(self, notes: Sequence[FoundNote], index: int) -> list[FoundNote]:
        total, full = _total(notes), self.metre.quarters
        text = (
            f"it has {beats_text(total)}, but {self.metre} needs {beats_text(full)}. "
            f"What goes beyond ({beats_text(total - full)}) is left out."
        )
        self.report_at(ProblemKind.BAR_SUM, text, bar_index=index, beat=None)
        kept: list[FoundNote] = []
        room = full
        for note in notes:
            if room > 0:
                kept.append(note if note.beats <= room else replace(note, beats=room, tied=False))
            room -= note.beats
        return kept

    def _printable(self, notes: Iterable[FoundNote], index: int) -> list[Note]:
        """Every length as note values; what has none (tuplets, very short notes) rests instead."""
        made: list[Note] = []
        beat, unfit, unfit_beat, tuplet = Fraction(1), Fraction(0), Fraction(1), False
        for note in notes:
            if unfit or not note.fits or not _values(note.beats):
                if not unfit:
                    unfit_beat, tuplet = beat, not note.fits
                unfit += note.beats
                if _values(unfit):
                    made.extend(self._resting(unfit, index, unfit_beat, tuplet))
                    unfit = Fraction(0)
            else:
                made.extend(_split(note))
            beat += note.beats
        while unfit and not _values(unfit) and made:
            before = made.pop()
            unfit, unfit_beat = unfit + before.beats, unfit_beat - before.beats
        return [*made, *(self._resting(unfit, index, unfit_beat, tuplet) if unfit else ())]

    def _resting(self, beats: Fraction, index: int, beat: Fraction, tuplet: bool) -> list[Note]:
        if tuplet:
            kind, what = ProblemKind.TUPLET, "a tuplet (such as a triplet)"
        else:
            kind, what = ProblemKind.LENGTH, "a note length that cannot be printed here"
        text = f"{what}. A rest of {beats_text(beats)} takes its place."
        self.report_at(kind, text, bar_index=index, beat=beat)
        return [Note(None, value) for value in _values(beats)]

    def finish(self, label: str) -> tuple[Line | None, list[Problem]]:
        """The line (None if it has no note) and all its problems in the order of the page."""
        bars = tuple(self._printed_bar(index) for index in range(len(self.bars)))
        line = Line(label, bars, self.metre, self.fifths, self.pickup)
        line = self._ties_mended(line)
        for (kind, what), places in self.marks.items():
            more = "" if len(places) == 1 else f" (and {len(places) - 1} more after it)"
            self.found.append(_Found(kind, places[0].bar_index, places[0].beat, f"{what}{more} is left out."))
        self.found.sort(key=lambda found: (found.bar_index, found.beat or 0))
        problems = [self._problem(found, label) for found in self.found]
        return (line if any(note.pitch for note in line.notes) else None), problems

    def _problem(self, found: _Found, label: str) -> Problem:
        bar, beat = found.bar_index + (0 if self.pickup else 1), found.beat
        if beat is not None and bar == 0:
            beat += self.metre.quarters - _total(self.bars[0])
        place = f"Bar {bar}" + ("" if beat is None else f", {count_text(beat, self.metre)}")
        return Problem(found.kind, label, bar, beat, f"{place}: {found.text}")

    def _ties_mended(self, line: Line) -> Line:
        """A tie that leads nowhere is taken away, and said."""
        bars: list[Bar] = []
        notes = (*line.notes, None)
        index = 0
        for place, bar in enumerate(line.bars):
            made: list[Note] = []
            beat = Fraction(1)
            for note in bar:
                index += 1
                following = notes[index]
                if note.tied and (following is None or following.pitch != note.pitch):
                    text = "a tie that does not lead to the same note is left out."
                    self.found.append(_Found(ProblemKind.TIE, place, beat, text))
                    note = replace(note, tied=False)
                made.append(note)
                beat += note.beats
            bars.append(tuple(made))
        return replace(line, bars=tuple(bars))


def _total(notes: Iterable[FoundNote]) -> Fraction:
    return sum((note.beats for note in notes), Fraction(0))


def _values(beats: Fraction) -> tuple[Fraction, ...]:
    """Note values that add up to a length, longest first; empty if there are none."""
    values: list[Fraction] = []
    for value in NOTE_VALUES:
        while value <= beats:
            values.append(value)
            beats -= value
    return tuple(values) if beats == 0 else ()


def _split(note: FoundNote) -> list[Note]:
    values = _values(note.beats)
    return [
        Note(note.pitch, value, note.pitch is not None and (note.tied or place < len(values) - 1))
        for place, value in enumerate(values)
    ]


def finish_lines(
    collectors: Sequence[LineCollector],
    *,
    problems: Sequence[Problem] = (),
    tempo: int | None,
    written_for: str | None,
) -> ReadResult:
    """All lines of a file in concert pitch, labelled in order.

    written_for  the instrument whose notes these are; it outweighs what the file says of itself
    Raises MusicError when no note is left.
    """
    lines: list[Line] = []
    told = list(problems)
    for collector in collectors:
        label = LABELS[min(len(lines), MOST_LINES - 1)]
        line, wrong = collector.finish(label)
        if line is None:
            told.extend(wrong)
            continue
        if len(lines) == MOST_LINES:
            message = f"The file has more than {MOST_LINES} parts: the others are left out."
            told.append(Problem(ProblemKind.PARTS, label, None, None, message))
            break
        told.extend(wrong)
        if written_for is not None:
            line = to_concert(line, written_for)
        elif collector.to_concert is not None:
            message = "The file says that this is a transposing part: it is moved to concert pitch."
            told.append(Problem(ProblemKind.TRANSPOSED, label, None, None, message))
            line = moved_by(line, collector.to_concert)
        line.validate()
        lines.append(line)
    if not lines:
        raise MusicError("There is no note with a pitch in this file: choose another file.")
    in_reach = tempo is not None and SLOWEST <= tempo <= FASTEST
    return ReadResult(tuple(lines), tempo if in_reach else None, tuple(told))


def check_size(data: bytes, *, most: int = MOST_BYTES) -> None:
    """Raise MusicError for an empty file or one of more than `most` bytes."""
    if not data:
        raise MusicError("This file is empty: choose another file.")
    if len(data) > most:
        raise MusicError(
            f"This file is too large for one exercise (over {most // 1000} kB): choose a smaller one."
        )


def check_length(*, notes: int = 0, bars: int = 0) -> None:
    """Raise MusicError for more notes in a bar, or more bars before this one, than an exercise has."""
    if notes > MOST_NOTES or bars > MOST_BARS:
        raise MusicError(
            f"This music is too long: an exercise has at most {MOST_BARS} bars and {MOST_NOTES} notes."
        )
