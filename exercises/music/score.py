"""What is an exercise line? Notes with lengths in bars, checked, and its stored form.

Lengths are exact fractions of quarter notes. A stored line is in concert pitch; a part holds a line in
written pitch.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from typing import Any, Self

from exercises.music.errors import MusicError
from exercises.music.keys import MOST_FIFTHS
from exercises.music.pitch import Pitch
from exercises.music.voice import gettext as _

#: Note values that the page can show, in quarter notes: name as in MusicXML and number of dots.
NOTE_VALUES: Mapping[Fraction, tuple[str, int]] = {
    Fraction(6): ("whole", 1),
    Fraction(4): ("whole", 0),
    Fraction(3): ("half", 1),
    Fraction(2): ("half", 0),
    Fraction(3, 2): ("quarter", 1),
    Fraction(1): ("quarter", 0),
    Fraction(3, 4): ("eighth", 1),
    Fraction(1, 2): ("eighth", 0),
    Fraction(3, 8): ("16th", 1),
    Fraction(1, 4): ("16th", 0),
}
#: Sane ends of an exercise; more is a mistake or an attack, not a line for beginners.
MOST_BARS = 64
MOST_NOTES = 512


@dataclass(frozen=True, slots=True)
class Metre:
    """A time signature: `beats` of `unit` (4 is a quarter note)."""

    beats: int
    unit: int

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read "4/4". Raises MusicError for what a beginning band does not meet."""
        top, slash, bottom = text.partition("/")
        if not (slash and top.strip().isdecimal() and bottom.strip().isdecimal()):
            raise MusicError(f"“{text}” is not a metre: write it like 4/4.")
        metre = cls(int(top), int(bottom))
        metre.validate()
        return metre

    def validate(self) -> None:
        if not 1 <= self.beats <= 12 or self.unit not in (2, 4, 8):
            raise MusicError(f"The metre {self} cannot be used: take 1 to 12 beats of 2, 4 or 8.")

    @property
    def quarters(self) -> Fraction:
        """Length of a full bar in quarter notes."""
        return Fraction(4 * self.beats, self.unit)

    @property
    def count_unit(self) -> Fraction:
        """Length of one spoken count in quarter notes; 2/2 is counted in quarters by first-years."""
        return Fraction(1, 2) if self.unit == 8 else Fraction(1)

    def __str__(self) -> str:
        return f"{self.beats}/{self.unit}"


FOUR_FOUR = Metre(4, 4)


@dataclass(frozen=True, slots=True)
class Note:
    """A note, or a rest when `pitch` is None. `tied`: held into the next note."""

    pitch: Pitch | None
    beats: Fraction
    tied: bool = False

    @property
    def is_rest(self) -> bool:
        return self.pitch is None


type Bar = tuple[Note, ...]


@dataclass(frozen=True, slots=True)
class NoteRef:
    """Where a note stands.

    index  place in the whole line, rests counted, from 0
    bar    printed bar number (a pickup bar is 0)
    note   place in the bar, from 1
    beat   place in the bar in quarter notes, from 1 (a pickup note on the fourth beat has 4)
    start  quarter notes from the beginning of the line, from 0
    """

    index: int
    bar: int
    note: int
    beat: Fraction
    start: Fraction


@dataclass(frozen=True, slots=True)
class Line:
    """One line of an exercise. `pickup`: the first bar is a short one before bar 1."""

    label: str
    bars: tuple[Bar, ...]
    metre: Metre
    fifths: int
    pickup: bool = False

    @property
    def notes(self) -> tuple[Note, ...]:
        return tuple(note for bar in self.bars for note in bar)

    @property
    def beats(self) -> Fraction:
        """Length of the line in quarter notes."""
        return sum((note.beats for note in self.notes), Fraction(0))

    def refs(self) -> tuple[NoteRef, ...]:
        """Where each note stands, in the order of `notes`."""
        return _refs(self)

    def tied_in(self) -> tuple[bool, ...]:
        """For each note, whether it is held over from the note before."""
        return (False, *(note.tied for note in self.notes[:-1])) if self.notes else ()

    def validate(self) -> None:
        """Raise MusicError with the bar and beat of the first thing that is wrong."""
        self.metre.validate()
        if not -MOST_FIFTHS <= self.fifths <= MOST_FIFTHS:
            raise MusicError(f"A key has at most {MOST_FIFTHS} sharps or flats.", line=self.label)
        if not any(note.pitch for note in self.notes):
            raise MusicError("There is no note in this line yet: write at least one.", line=self.label)
        if len(self.bars) > MOST_BARS or len(self.notes) > MOST_NOTES:
            raise MusicError(
                f"This line is too long: an exercise has at most {MOST_BARS} bars and {MOST_NOTES} notes.",
                line=self.label,
            )
        for number, bar in self.numbered_bars():
            self._validate_bar(number, bar)
        self._validate_ties()

    def numbered_bars(self) -> Iterator[tuple[int, Bar]]:
        """Bars with their printed numbers."""
        return enumerate(self.bars, 0 if self.pickup else 1)

    def _validate_bar(self, number: int, bar: Bar) -> None:
        for note in bar:
            if note.beats not in NOTE_VALUES:
                raise MusicError(
                    f"Bar {number}: a length of {beats_text(note.beats)} cannot be printed as one note: "
                    "use two tied notes.",
                    line=self.label,
                    bar=number,
                )
            if note.pitch is not None and abs(note.pitch.alter) > 2:
                raise MusicError(
                    f"Bar {number}: {note.pitch.name} has too many signs.", line=self.label, bar=number
                )
        total, full = sum((note.beats for note in bar), Fraction(0)), self.metre.quarters
        short_by_right = number == 0 or (self.pickup and number == len(self.bars) - 1)
        if total == full or (short_by_right and 0 < total < full):
            return
        raise MusicError(bar_sum_text(number, total, self.metre), line=self.label, bar=number)

    def _validate_ties(self) -> None:
        notes, refs = self.notes, self.refs()
        for note, ref, following in zip(notes, refs, (*notes[1:], None), strict=True):
            if note.tied and (note.pitch is None or following is None or following.pitch != note.pitch):
                raise MusicError(
                    f"Bar {ref.bar}, {count_text(ref.beat, self.metre)}: a tie must lead to the same note. "
                    "Take the tie away or repeat the note.",
                    line=self.label,
                    bar=ref.bar,
                    beat=ref.beat,
                )


@lru_cache(maxsize=256)
def _refs(line: Line) -> tuple[NoteRef, ...]:
    found: list[NoteRef] = []
    start = Fraction(0)
    for number, bar in line.numbered_bars():
        length = sum((note.beats for note in bar), Fraction(0))
        beat = 1 + (line.metre.quarters - length if number == 0 else Fraction(0))
        for place, note in enumerate(bar, 1):
            found.append(NoteRef(len(found), number, place, beat, start))
            beat += note.beats
            start += note.beats
    return tuple(found)


def beats_text(beats: Fraction) -> str:
    """ "1 beat", "2 beats", "1½ beats", "3/8 beat"."""
    whole, part = divmod(beats, 1)
    signs = {Fraction(1, 2): "½", Fraction(1, 4): "¼", Fraction(3, 4): "¾", Fraction(0): ""}
    text = f"{whole or ''}{signs[part]}" if part in signs and beats else str(beats)
    return f"{text or '0'} beat{'' if 0 < beats <= 1 else 's'}"


def bar_sum_text(number: int, total: Fraction, metre: Metre) -> str:
    """One sentence for a bar that does not add up."""
    full = metre.quarters
    word = f"add {beats_text(full - total)}" if total < full else f"take away {beats_text(total - full)}"
    return f"Bar {number} has {beats_text(total)}, but {metre} needs {beats_text(full)}: {word}."


def count_text(beat: Fraction, metre: Metre) -> str:
    """A place in a bar as counted aloud: "beat 3", "the “and” of beat 2", "just after beat 1"."""
    whole, part = _count(beat, metre)
    if part == 0:
        return _("beat {number}").format(number=whole)
    if part == Fraction(1, 2):
        return _("the “and” of beat {number}").format(number=whole)
    return _("just after beat {number}").format(number=whole)


def on_count_text(beat: Fraction, metre: Metre) -> str:
    """The same inside a sentence: "on beat 3", "on the “and” of beat 2", "just after beat 1"."""
    whole, part = _count(beat, metre)
    if part == 0:
        return _("on beat {number}").format(number=whole)
    if part == Fraction(1, 2):
        return _("on the “and” of beat {number}").format(number=whole)
    return count_text(beat, metre)


def _count(beat: Fraction, metre: Metre) -> tuple[int, Fraction]:
    """The count that was begun last, and how far it has gone."""
    return divmod(1 + (beat - 1) / metre.count_unit, 1)


def with_rests(line: Line, indexes: frozenset[int] | set[int]) -> Line:
    """The line with these notes left out (a rest in their place, held notes whole, ties mended)."""
    wanted = {other for index in indexes for other in held_together(line, index)}
    return _edited(line, dict.fromkeys(wanted))


def with_pitches(line: Line, pitches: Mapping[int, Pitch]) -> Line:
    """The line with other notes at these places; a note held over a tie changes as a whole."""
    return _edited(
        line, {other: pitch for index, pitch in pitches.items() for other in held_together(line, index)}
    )


def held_together(line: Line, index: int) -> range:
    """Indexes of the notes tied to this one, itself included."""
    notes = line.notes
    if not 0 <= index < len(notes):
        raise MusicError(f"There is no note {index + 1} in this line.", line=line.label)
    first = last = index
    while first and notes[first - 1].tied:
        first -= 1
    while notes[last].tied:
        last += 1
    return range(first, last + 1)


def _edited(line: Line, pitches: Mapping[int, Pitch | None]) -> Line:
    """Ties stay only between notes that are still the same."""
    bars: list[Bar] = []
    old = list(line.notes)
    new = [pitches.get(index, note.pitch) for index, note in enumerate(old)]
    index = 0
    for bar in line.bars:
        made: list[Note] = []
        for note in bar:
            tied = note.tied and new[index] is not None and new[index] == new[index + 1]
            made.append(Note(new[index], note.beats, tied))
            index += 1
        bars.append(tuple(made))
    return replace(line, bars=tuple(bars))


def line_to_json(line: Line) -> dict[str, Any]:
    """A plain dict for a JSON column; `line_from_json` reads it back equal."""
    stored: dict[str, Any] = {
        "label": line.label,
        "metre": str(line.metre),
        "fifths": line.fifths,
        "bars": [[_note_to_json(note) for note in bar] for bar in line.bars],
    }
    return stored | ({"pickup": True} if line.pickup else {})


def _note_to_json(note: Note) -> dict[str, Any]:
    stored: dict[str, Any] = {"pitch": note.pitch.name if note.pitch else None, "beats": str(note.beats)}
    return stored | ({"tied": True} if note.tied else {})


def line_from_json(stored: Mapping[str, Any]) -> Line:
    """Read what `line_to_json` wrote, checked. Raises MusicError for anything else."""
    try:
        line = Line(
            label=str(stored["label"]),
            bars=tuple(tuple(_note_from_json(note) for note in bar) for bar in stored["bars"]),
            metre=Metre.parse(stored["metre"]),
            fifths=int(stored["fifths"]),
            pickup=bool(stored.get("pickup", False)),
        )
    except MusicError:
        raise
    except (KeyError, TypeError, ValueError, AttributeError, ZeroDivisionError) as error:
        raise MusicError("This stored line is damaged: enter the line again.") from error
    line.validate()
    return line


def _note_from_json(stored: Mapping[str, Any]) -> Note:
    pitch = stored["pitch"]
    return Note(
        pitch=None if pitch is None else Pitch.parse(pitch),
        beats=_stored_beats(stored["beats"]),
        tied=bool(stored.get("tied", False)),
    )


def _stored_beats(text: str) -> Fraction:
    if not re.fullmatch(r"\d{1,2}(/\d{1,2})?", text):
        raise ValueError(text)
    return Fraction(text)
