"""Short ways to write lines in tests."""

from fractions import Fraction

from exercises.music.pitch import Pitch
from exercises.music.score import FOUR_FOUR, Line, Metre, Note


def line_of(
    text: str, *, fifths: int = 0, beats: int = 1, metre: Metre = FOUR_FOUR, label: str = "A"
) -> Line:
    """ "A4 G#4~ | G#4 R" with every note `beats` long; R is a rest, ~ a tie. Bars are not checked."""

    def note(word: str) -> Note:
        pitch = None if word == "R" else Pitch.parse(word.rstrip("~"))
        return Note(pitch, Fraction(beats), word.endswith("~"))

    return Line(
        label, tuple(tuple(note(word) for word in bar.split()) for bar in text.split("|")), metre, fifths
    )
