"""Which little finger on the clarinet? A walk over the line.

E/B, F/C and F sharp/C sharp have a key for either little finger; C sharp/G sharp only for the left, A flat/E
flat only for the right. Two notes in a row on different keys should take opposite hands. The right hand is
preferred where both are free. Common practice, no source.
"""

from collections.abc import Mapping, Sequence

from exercises.music.voice import gettext as _
from exercises.music.voice import gettext_noop

#: Written MIDI numbers by key name, low register and the twelfth above.
EITHER_SIDE: Mapping[int, str] = {52: "E/B", 53: "F/C", 54: "F#/C#", 71: "E/B", 72: "F/C", 73: "F#/C#"}
ONE_SIDE: Mapping[int, tuple[str, str]] = {
    61: ("L", "C#/G#"),
    80: ("L", "C#/G#"),
    56: ("R", "Ab/Eb"),
    75: ("R", "Ab/Eb"),
}

OTHER_HAND = gettext_noop("Use the left little finger here: the note beside it needs the right one.")
SAME_FINGER_TWICE = gettext_noop(
    "The same little finger twice in a row cannot be avoided here: ask your director."
)
#: Cost of the same finger on another key, and of leaving the right hand, in the walk below.
_SLIDE_COST, _LEFT_COST = 10, 1


def clarinet_sides(heights: Sequence[int | None]) -> list[tuple[str, str] | None]:
    """For each height None, or the choice ("primary", "left_E/B"...) and the reason to print."""
    sides = _cheapest_sides(heights)
    picks: list[tuple[str, str] | None] = []
    for place, (midi, side) in enumerate(zip(heights, sides, strict=True)):
        choice = reason = ""
        if midi is not None and midi in EITHER_SIDE and side == "L":
            choice, reason = f"left_{EITHER_SIDE[midi]}", _(OTHER_HAND)
        if place and _slides(heights[place - 1], sides[place - 1], midi, side):
            choice, reason = choice or "primary", _(SAME_FINGER_TWICE)
        picks.append((choice, reason) if choice else None)
    return picks


def _cheapest_sides(heights: Sequence[int | None]) -> list[str]:
    """The side of every note ("" where no little finger works) with the least sliding over the whole line."""
    best: dict[str, tuple[int, list[str]]] = {"": (0, [])}
    for place, midi in enumerate(heights):
        before = heights[place - 1] if place else None
        step: dict[str, tuple[int, list[str]]] = {}
        for side in _sides(midi):
            ways = [
                (
                    cost
                    + (_SLIDE_COST if _slides(before, last, midi, side) else 0)
                    + (_LEFT_COST if side == "L" else 0),
                    [*path, side],
                )
                for last, (cost, path) in best.items()
            ]
            step[side] = min(ways, key=lambda way: way[0])
        best = step
    return min(best.values(), key=lambda way: way[0])[1]


def _sides(midi: int | None) -> tuple[str, ...]:
    if midi is None:
        return ("",)
    if midi in EITHER_SIDE:
        return ("R", "L")
    return (ONE_SIDE[midi][0],) if midi in ONE_SIDE else ("",)


def _slides(before: int | None, last: str, midi: int | None, side: str) -> bool:
    """Whether one little finger would have to go from one key to another."""
    return bool(side) and last == side and before is not None and _key(before) != _key(midi)


def _key(midi: int | None) -> str | None:
    if midi is None:
        return None
    return EITHER_SIDE.get(midi) or (ONE_SIDE[midi][1] if midi in ONE_SIDE else None)
