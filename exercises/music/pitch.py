"""Which note is it? Spelled pitches and spelled intervals.

A pitch keeps its spelling: B flat and A sharp sound alike and are two different notes on the page. Moving by
an interval therefore moves letter steps and semitones together (never semitones alone).
Scientific pitch names: C4 is middle C, MIDI 60; the octave number changes at C.
"""

import re
from dataclasses import dataclass
from typing import Self

from exercises.music.errors import MusicError
from exercises.music.voice import gettext, gettext_noop

LETTERS = "CDEFGAB"
SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
LOWEST_OCTAVE, HIGHEST_OCTAVE = 0, 9

_SPOKEN = {
    -2: gettext_noop("{letter} double flat"),
    -1: gettext_noop("{letter} flat"),
    0: gettext_noop("{letter} natural"),
    1: gettext_noop("{letter} sharp"),
    2: gettext_noop("{letter} double sharp"),
}
_PRINTED = {-2: "𝄫", -1: "♭", 0: "", 1: "♯", 2: "𝄪"}
_NAME = re.compile(r"([A-Ga-g])(bb|b|##|#|♭♭|♭|♯♯|♯|𝄫|𝄪)?(-?\d+)")
_ALTERS = {"": 0, "b": -1, "bb": -2, "#": 1, "##": 2, "♭": -1, "♭♭": -2, "♯": 1, "♯♯": 2, "𝄫": -2, "𝄪": 2}


@dataclass(frozen=True, slots=True)
class Interval:
    """A spelled interval: letter steps (a second is 1) and semitones, both signed, octaves included."""

    steps: int
    semitones: int

    def __neg__(self) -> Self:
        return type(self)(-self.steps, -self.semitones)

    def __add__(self, other: Self) -> Self:
        return type(self)(self.steps + other.steps, self.semitones + other.semitones)


OCTAVE = Interval(7, 12)


@dataclass(frozen=True, slots=True)
class Pitch:
    """One spelled pitch. `alter` is in semitones: -1 flat, 1 sharp."""

    letter: str
    alter: int
    octave: int

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read "Bb4", "F#3", "C5" (also with ♭ and ♯). Raises MusicError."""
        found = _NAME.fullmatch(text.strip())
        if found is None:
            raise MusicError(
                f"“{text}” is not a note name: write a letter, then b or # if needed, then the octave."
            )
        octave = int(found[3])
        if not LOWEST_OCTAVE <= octave <= HIGHEST_OCTAVE:
            raise MusicError(
                f"“{text}” is out of reach: octaves go from {LOWEST_OCTAVE} to {HIGHEST_OCTAVE}."
            )
        return cls(found[1].upper(), _ALTERS[found[2] or ""], octave)

    @property
    def midi(self) -> int:
        """MIDI note number, C4 = 60."""
        return 12 * (self.octave + 1) + SEMITONES[self.letter] + self.alter

    @property
    def height(self) -> int:
        """Letter steps above C0: the place on the staff, whatever the sign."""
        return LETTERS.index(self.letter) + 7 * self.octave

    @property
    def name(self) -> str:
        """Plain text, "Bb4"; what `parse` reads."""
        return self.letter + ("#" * self.alter if self.alter > 0 else "b" * -self.alter) + str(self.octave)

    @property
    def spoken(self) -> str:
        """As said in class, without the octave: "B flat"."""
        return self.spoken_in_full if self.alter else self.letter

    @property
    def spoken_in_full(self) -> str:
        """ "B natural" too, where that is news."""
        return gettext(_SPOKEN[self.alter]).format(letter=self.letter)

    @property
    def printed_letter(self) -> str:
        """With a music sign, without the octave: "B♭"."""
        return self.letter + _PRINTED[self.alter]

    @property
    def printed(self) -> str:
        """With a music sign and the octave: "B♭4"."""
        return self.printed_letter + str(self.octave)

    def moved(self, interval: Interval) -> Self:
        """This pitch moved by a spelled interval, so that a third stays a third."""
        height = self.height + interval.steps
        letter, octave = LETTERS[height % 7], height // 7
        alter = self.midi + interval.semitones - (12 * (octave + 1) + SEMITONES[letter])
        return type(self)(letter, alter, octave)

    def octaves_up(self, count: int) -> Self:
        return type(self)(self.letter, self.alter, self.octave + count)

    def respelled(self, steps: int) -> Self:
        """The same sound on a letter `steps` higher (or lower, negative)."""
        return self.moved(Interval(steps, 0))
