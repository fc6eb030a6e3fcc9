"""Where does each key of a woodwind stand in its picture? Our own drawings, in units of their own.

Round keys are the left hand's, square ones the right hand's, half moons the thumb's, bars the little fingers'
and side keys.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from exercises.music.voice import gettext_noop


class Form(StrEnum):
    ROUND = "round"
    SQUARE = "square"
    BAR = "bar"
    DOT = "dot"
    MOON = "moon"
    HALF = "half"


@dataclass(frozen=True, slots=True)
class Shape:
    """One key in a picture, by its middle. `width` is used by bars."""

    key: str
    form: Form
    x: float
    y: float
    label: str = ""
    width: float = 34


@dataclass(frozen=True, slots=True)
class Picture:
    """All keys of one instrument: viewBox and shapes; the body is a line at x = 150."""

    box: tuple[float, float, float, float]
    shapes: tuple[Shape, ...]


def _hands(bis: bool = False) -> tuple[Shape, ...]:
    """The six main fingers: left hand round above, right hand square below."""
    left = tuple(Shape(f"LH{n}", Form.ROUND, 150, y, str(n)) for n, y in ((1, 46), (2, 98), (3, 142)))
    right = tuple(Shape(f"RH{n}", Form.SQUARE, 150, y, str(n)) for n, y in ((1, 238), (2, 284), (3, 330)))
    small = (Shape("Bis", Form.DOT, 150, 72),) if bis else ()
    return (*left, *small, *right)


def _bar(key: str, x: float, y: float, label: str, width: float = 34) -> Shape:
    return Shape(key, Form.BAR, x, y, label, width)


PICTURES: Mapping[str, Picture] = {
    "saxophone": Picture(
        (36, 12, 252, 352),
        (
            Shape("OCT", Form.MOON, 104, 52, "T"),
            *_hands(bis=True),
            _bar("PalmD", 212, 46, "D"),
            _bar("G#Key", 85, 176, "G♯"),
            _bar("LowC#", 67, 198, "C♯"),
            _bar("LowB", 103, 198, "B"),
            _bar("LowBb", 85, 220, "B♭"),
            _bar("SideC", 212, 206, "C"),
            _bar("SideBb", 212, 228, "B♭"),
            _bar("ChromF#", 195, 307, "F♯"),
            _bar("EbKey", 214, 349, "E♭"),
            _bar("LowC", 252, 349, "C"),
        ),
    ),
    "flute": Picture(
        (36, 12, 252, 368),
        (
            Shape("Th", Form.MOON, 104, 52, "T"),
            Shape("ThBb", Form.MOON, 104, 96, "B♭"),
            *_hands(),
            _bar("G#Key", 92, 176, "G♯"),
            _bar("BbLever", 204, 212, "B♭"),
            _bar("EbKey", 206, 350, "E♭"),
            _bar("LowC#", 246, 339, "C♯"),
            _bar("LowC", 246, 361, "C"),
        ),
    ),
    "clarinet": Picture(
        (26, 12, 262, 370),
        (
            _bar("REG", 92, 30, gettext_noop("reg")),
            Shape("Th", Form.MOON, 104, 68, "T"),
            _bar("ThroatG#", 200, 34, "G♯"),
            _bar("ThroatA", 200, 56, "A"),
            *_hands(),
            _bar("LSliver", 190, 120, "", 22),
            _bar("L_E/B", 56, 178, "E/B", 48),
            _bar("L_F#/C#", 106, 178, "F♯/C♯", 48),
            _bar("L_F/C", 56, 200, "F/C", 48),
            _bar("L_C#/G#", 106, 200, "C♯/G♯", 48),
            _bar("Side2", 208, 196, gettext_noop("side 2"), 48),
            _bar("Side1", 208, 218, gettext_noop("side 1"), 48),
            _bar("Sliver", 192, 307, "", 22),
            _bar("R_Ab/Eb", 204, 340, "A♭/E♭", 48),
            _bar("R_F#/C#", 254, 340, "F♯/C♯", 48),
            _bar("R_E/B", 204, 362, "E/B", 48),
            _bar("R_F/C", 254, 362, "F/C", 48),
        ),
    ),
    "oboe": Picture(
        (36, 12, 252, 368),
        (
            Shape("OCT1", Form.MOON, 104, 52, "T"),
            _bar("OCT2", 92, 98, "2nd", 38),
            *_hands(),
            Shape("Half", Form.HALF, 150, 46, "½"),
            _bar("LeftF", 64, 176, "F"),
            _bar("G#Key", 102, 176, "G♯"),
            _bar("LowB", 64, 198, "B"),
            _bar("LowBb", 102, 198, "B♭"),
            _bar("FKey", 195, 307, "F"),
            _bar("EbKey", 206, 350, "E♭"),
            _bar("C#Key", 246, 339, "C♯"),
            _bar("LowC", 246, 361, "C"),
        ),
    ),
    "bassoon": Picture(
        (36, 12, 252, 352),
        (
            Shape("Wh", Form.MOON, 104, 52, "W"),
            *_hands(),
            Shape("Half", Form.HALF, 150, 46, "½"),
            _bar("RTh_Bb", 92, 238, "B♭"),
            _bar("RTh_E", 92, 262, "E"),
            _bar("RTh_F#", 92, 286, "F♯"),
            _bar("FKey", 206, 349, "F"),
            _bar("AbKey", 244, 349, "A♭"),
        ),
    ),
}
