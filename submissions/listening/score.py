"""What was the student asked to play?

Definition: the part's notes in order, each with its sounding pitch and its place in beats. Optionally
each note as the student reads it (letter, sign, octave, bar, beat) and the instrument's transposition, which
let the engine say why notes went wrong in the student's own reading; and the lines that the score is made of.

Assumptions: one note at a time, in order; ties already joined to one note; rests are gaps between notes.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from submissions.listening.errors import HearingError

LETTERS = "CDEFGAB"
STRUCK = ("bell", "glock", "xylo", "marimba", "vibra", "chime", "mallet")
"""Words in the names of instruments that are struck and ring on, for a score that does not say it."""

LOWEST_MIDI, HIGHEST_MIDI = 21, 115
MOST_NOTES = 400
EARLIEST_BEAT = -100
"""Notes of a pickup may be counted from before the first barline."""


@dataclass(frozen=True, slots=True)
class WrittenNote:
    """The note as printed on the student's part."""

    letter: str
    alter: int
    octave: int
    bar: int
    beat: float
    reason: str
    """Why it sounds as it does: "key", "sign", "carried", "courtesy", ... ; empty when not given."""

    @property
    def midi(self) -> int:
        """Written (not sounding) pitch."""
        return 12 * (self.octave + 1) + (0, 2, 4, 5, 7, 9, 11)[LETTERS.index(self.letter)] + self.alter


@dataclass(frozen=True, slots=True)
class ScoreNote:
    midi: int
    """Sounding pitch."""
    start_beat: float
    beats: float
    written: WrittenNote | None = None


@dataclass(frozen=True, slots=True)
class ScoreLine:
    """One line of a score of several, by itself: counted from its own beginning, in its own beats."""

    label: str
    score: "Score"
    stretch: float = 1.0
    """One beat of this line in beats of the whole score."""


@dataclass(frozen=True, slots=True)
class Score:
    instrument: str
    notes: tuple[ScoreNote, ...]
    struck: bool = False
    """Bars that are struck and ring on, rather than a wind."""
    transposition: int | None = None
    """Semitones from what is written to what sounds; None when not given."""
    tempo_bpm: float | None = None
    beats_per_bar: float = 4.0
    fifths: int | None = None
    """The printed key signature: sharps above zero, flats below; None when not given."""
    other_lines: tuple["Score", ...] = ()
    """The student's other lines, to notice when one of them was played instead."""
    alternates: tuple[int, ...] = ()
    """Indices of notes whose change from the note before has a recommended alternate fingering."""
    lines: tuple[ScoreLine, ...] = ()
    """What the score is made of, in order, where what was heard is wanted line by line."""

    @property
    def midis(self) -> list[int]:
        return [note.midi for note in self.notes]

    @property
    def beats(self) -> list[float]:
        return [note.start_beat for note in self.notes]

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "Score":
        """Read SCORE.json. Raises HearingError naming the first thing that is wrong."""
        if not isinstance(data, Mapping):
            raise HearingError("The score is not a JSON object.")
        notes = data.get("notes")
        if not isinstance(notes, list) or not notes:
            raise HearingError("The score has no notes.")
        if len(notes) > MOST_NOTES:
            raise HearingError(f"The score has more than {MOST_NOTES} notes.")
        read = tuple(_note(index, note) for index, note in enumerate(notes))
        for index, (before, after) in enumerate(pairwise(read)):
            if after.start_beat <= before.start_beat:
                raise HearingError(f"Note {index + 2} of the score does not start after the note before it.")
        fifths = data.get("fifths")
        if fifths is not None and (not isinstance(fifths, int) or not -7 <= fifths <= 7):
            raise HearingError("The score's key signature must be between -7 and 7 fifths.")
        transposition = data.get("transposition")
        if transposition is not None and (not isinstance(transposition, int) or abs(transposition) > 48):
            raise HearingError("The score's transposition must be whole semitones from written to sounding.")
        lines = tuple(_line(index, line) for index, line in enumerate(data.get("lines") or ()))
        if lines and sum(len(line.score.notes) for line in lines) != len(read):
            raise HearingError("The score's lines do not have its notes between them.")
        instrument, struck = str(data.get("instrument") or ""), data.get("struck")
        alternates = data.get("alternates") or ()
        if not all(isinstance(index, int) and 0 < index < len(read) for index in alternates):
            raise HearingError("The score's alternates must be indices of its notes, from 1.")
        return cls(
            instrument=instrument,
            notes=read,
            struck=any(word in instrument.lower() for word in STRUCK) if struck is None else bool(struck),
            transposition=transposition,
            tempo_bpm=_positive(data.get("tempo_bpm"), "tempo", optional=True),
            beats_per_bar=_positive(data.get("beats_per_bar"), "beats per bar", optional=True) or 4.0,
            fifths=fifths,
            other_lines=tuple(cls.from_json(other) for other in data.get("other_lines") or ()),
            alternates=tuple(alternates),
            lines=lines,
        )


def _positive(value: object, what: str, *, optional: bool = False) -> float | None:
    if value is None and optional:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < 1000:
        raise HearingError(f"The score's {what} must be a number above zero.")
    return float(value)


def _line(index: int, data: object) -> ScoreLine:
    where = f"Line {index + 1} of the score"
    if not isinstance(data, Mapping) or not isinstance(data.get("label"), str):
        raise HearingError(f"{where} needs a label.")
    stretch = _positive(data.get("stretch"), "stretch", optional=True)
    return ScoreLine(data["label"], Score.from_json(data.get("score") or {}), stretch or 1.0)


def _note(index: int, data: object) -> ScoreNote:
    where = f"Note {index + 1} of the score"
    if not isinstance(data, Mapping):
        raise HearingError(f"{where} is not a JSON object.")
    midi, start, beats = data.get("midi"), data.get("start_beat"), data.get("beats")
    if isinstance(midi, float) and midi.is_integer():
        midi = int(midi)
    if isinstance(midi, bool) or not isinstance(midi, int) or not LOWEST_MIDI <= midi <= HIGHEST_MIDI:
        raise HearingError(f"{where} needs a midi number from {LOWEST_MIDI} to {HIGHEST_MIDI}.")
    if isinstance(start, bool) or not isinstance(start, int | float) or not EARLIEST_BEAT <= start < 10_000:
        raise HearingError(f"{where} needs a start_beat, counted from the first barline.")
    if isinstance(beats, bool) or not isinstance(beats, int | float) or not 0 < beats <= 100:
        raise HearingError(f"{where} needs beats above zero.")
    written = data.get("written")
    return ScoreNote(
        midi=midi,
        start_beat=float(start),
        beats=float(beats),
        written=None if written is None else _written(where, written),
    )


def _written(where: str, data: object) -> WrittenNote:
    if not isinstance(data, Mapping):
        raise HearingError(f"{where}: written is not a JSON object.")
    letter, alter, octave = data.get("letter"), data.get("alter", 0), data.get("octave")
    bar, beat = data.get("bar"), data.get("beat")
    if not isinstance(letter, str) or letter not in tuple(LETTERS):
        raise HearingError(f"{where}: written needs a letter from C to B.")
    if not isinstance(alter, int) or not -2 <= alter <= 2:
        raise HearingError(f"{where}: written needs an alter from -2 to 2.")
    if not isinstance(octave, int) or not -1 <= octave <= 9:
        raise HearingError(f"{where}: written needs an octave from -1 to 9.")
    if not isinstance(bar, int) or not isinstance(beat, int | float):
        raise HearingError(f"{where}: written needs its bar and beat.")
    return WrittenNote(letter, alter, octave, bar, float(beat), str(data.get("reason") or ""))
