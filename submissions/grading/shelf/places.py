"""Where on an engraved line does each note's tray stand, and each moment of the sound? Pure geometry.

All places are in the pixels of the engraving, so that the shelf and the notes are one drawing.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from submissions.grading.shelf.notes import StruckNote

if TYPE_CHECKING:
    from exercises.music.engraving import Engraving

#: A tray begins left of the note head's middle and ends before the next head or the bar line.
BEFORE_HEAD, BEFORE_NEXT_HEAD, BEFORE_BAR_LINE = 8.0, 11.0, 5.0
LEAST_WIDTH = 7.0


@dataclass(frozen=True, slots=True)
class Tray:
    """The room of one note on one system; a note held over a line's end has a tray on each."""

    number: int
    system: int
    left: float
    right: float
    begins: bool

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def middle(self) -> float:
        return (self.left + self.right) / 2


@dataclass(frozen=True, slots=True)
class Moment:
    """A written beat and where it stands."""

    beat: float
    x: float
    system: int


def trays(engraving: "Engraving", notes: Sequence[StruckNote]) -> tuple[Tray, ...]:
    found: list[Tray] = []
    for note in notes:
        by_system: dict[int, tuple[float, float]] = {}
        for index in range(note.first, note.last + 1):
            system = engraving.notes[index].system
            left, right = _room(engraving, index)
            if system in by_system:
                left = min(left, by_system[system][0])
            by_system[system] = (left, right)
        for place, (system, (left, right)) in enumerate(by_system.items()):
            found.append(Tray(note.number, system, left, right, begins=place == 0))
    return tuple(found)


def moments(engraving: "Engraving") -> tuple[Moment, ...]:
    """Every note, rest and bar end in the order of time; a bar's end and the next one's start share it."""
    by_bar: dict[int, list[Moment]] = {index: [] for index in range(len(engraving.bars))}
    bar_of = {(bar.bar, bar.system): bar.index for bar in engraving.bars}
    for note in engraving.notes:
        by_bar[bar_of[note.bar, note.system]].append(Moment(float(note.start), note.x, note.system))
    found: list[Moment] = []
    for index, bar in enumerate(engraving.bars):
        notes = by_bar[index]
        found += notes
        last = next((note for note in reversed(engraving.notes) if note.bar == bar.bar), None)
        if last is not None:
            found.append(Moment(float(last.start + last.beats), bar.right, bar.system))
    return tuple(found)


def beat_at(found: Sequence[Moment], x: float, system: int) -> float | None:
    """The written beat that stands at `x`; None left of the first note or right of the last bar line."""
    row = [moment for moment in found if moment.system == system]
    if not row or not row[0].x <= x <= row[-1].x:
        return None
    right = min(bisect_right([moment.x for moment in row], x), len(row) - 1)
    a, b = row[right - 1], row[right]
    return a.beat if b.x == a.x else a.beat + (x - a.x) * (b.beat - a.beat) / (b.x - a.x)


def _room(engraving: "Engraving", index: int) -> tuple[float, float]:
    place = engraving.notes[index]
    bar = next(
        bar
        for bar in engraving.bars
        if bar.system == place.system and bar.left - 1 <= place.x <= bar.right + 1
    )
    right = bar.right - BEFORE_BAR_LINE
    for one, other in pairwise(engraving.notes[index : index + 2]):
        if other.system == one.system and other.bar == one.bar:
            right = min(right, other.x - BEFORE_NEXT_HEAD)
    left = place.x - BEFORE_HEAD
    return left, max(right, left + LEAST_WIDTH)
