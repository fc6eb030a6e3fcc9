"""The ruler of a part: where its notes lie within what this band's players can reach."""

from dataclasses import dataclass

from exercises.music.instruments import Range, Ranges
from exercises.music.part import Part
from exercises.music.pitch import Pitch

#: Half steps shown beyond the range on either side, so that a note outside has room.
BEYOND = 3
WIDTH = 220
EDGE = 16


@dataclass(frozen=True, slots=True)
class Span:
    x: float
    width: float


@dataclass(frozen=True, slots=True)
class ReachEnd:
    """Lowest or highest note of the part."""

    x: float
    name: str
    is_outside: bool


@dataclass(frozen=True, slots=True)
class Reach:
    """Places on a ruler `WIDTH` wide, in half steps from left to right."""

    extended: Span
    comfortable: Span
    over: tuple[Span, ...]
    low: ReachEnd
    high: ReachEnd
    words: str

    @property
    def is_one_note(self) -> bool:
        return self.low.x == self.high.x


def reach_of(part: Part, ranges: Ranges) -> Reach | None:
    """None for a part without pitches."""
    pitches = [note.pitch for note in part.line.notes if note.pitch]
    if not pitches or not part.instrument.pitched:
        return None
    low, high = min(pitches, key=_midi), max(pitches, key=_midi)
    left = min(low.midi, ranges.extended.low.midi) - BEYOND
    right = max(high.midi, ranges.extended.high.midi) + BEYOND
    step = (WIDTH - 2 * EDGE) / (right - left)

    def x(midi: float) -> float:
        return round(EDGE + (midi - left) * step, 1)

    def span(first: float, last: float) -> Span:
        """From the middle of one half step to the middle of another, half a step added on either side."""
        return Span(x(first - 0.5), round((last - first + 1) * step, 1))

    extended = ranges.extended
    over = []
    if low.midi < extended.low.midi:
        over.append(span(low.midi, extended.low.midi - 1))
    if high.midi > extended.high.midi:
        over.append(span(extended.high.midi + 1, high.midi))
    return Reach(
        extended=span(extended.low.midi, extended.high.midi),
        comfortable=span(ranges.comfortable.low.midi, ranges.comfortable.high.midi),
        over=tuple(over),
        low=ReachEnd(x(low.midi), low.printed_letter, _is_outside(low, extended)),
        high=ReachEnd(x(high.midi), high.printed_letter, _is_outside(high, extended)),
        words=f"Uses {low.printed} to {high.printed}",
    )


def _midi(pitch: Pitch) -> int:
    return pitch.midi


def _is_outside(pitch: Pitch, extended: Range) -> bool:
    return bool(extended.distance(pitch.midi))
