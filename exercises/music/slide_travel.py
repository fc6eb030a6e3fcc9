"""Which slide position next to which? The travel rule of the trombone.

An alternate position is taken only between two notes, when neither move gets longer and both together get at
least three positions shorter. Common practice, no source; the seventh harmonic is never used for it.
"""

from collections.abc import Mapping, Sequence

from exercises.music.brass import FLAT_SEVENTH, positions_words
from exercises.music.fingering_tables import PRIMARY, FingeringRow
from exercises.music.voice import gettext as _

#: Positions an alternate must save over both moves together.
WORTH_IT = 3


def slide_positions(
    heights: Sequence[int | None], rows: Mapping[int, tuple[FingeringRow, ...]]
) -> list[tuple[str, str]]:
    """For each height its choice ("primary" or an alternate) and the reason; None is a rest."""
    picks: list[tuple[str, str]] = []
    before: int | None = None
    for place, midi in enumerate(heights):
        choices = rows.get(midi, ()) if midi is not None else ()
        if not choices:
            picks.append((PRIMARY, ""))
            before = None
            continue
        following = heights[place + 1] if place + 1 < len(heights) else None
        after_rows = rows.get(following, ()) if following is not None else ()
        after = _position(after_rows[0]) if after_rows else None
        row = _shortest(choices, before, after)
        reason = "" if row is choices[0] else _reason(row, choices[0])
        picks.append((row.choice, reason))
        before = _position(row)
    return picks


def _shortest(choices: Sequence[FingeringRow], before: int | None, after: int | None) -> FingeringRow:
    primary = choices[0]
    if before is None or after is None:
        return primary
    usable = [row for row in choices[1:] if row.when != FLAT_SEVENTH and "T" not in (row.keys or ())]
    here = _position(primary)

    def travel(position: int) -> int:
        return abs(position - before) + abs(position - after)

    def better(row: FingeringRow) -> bool:
        there = _position(row)
        neither_longer = abs(there - before) <= abs(here - before) and abs(there - after) <= abs(here - after)
        return neither_longer and travel(here) - travel(there) >= WORTH_IT

    return min(filter(better, usable), key=lambda row: travel(_position(row)), default=primary)


def _position(row: FingeringRow) -> int:
    """Number of the position; with the trigger the slide is where the number says."""
    return int((row.keys or ("1",))[-1])


def _reason(row: FingeringRow, primary: FingeringRow) -> str:
    there, here = positions_words(str(_position(row))), positions_words(str(_position(primary)))
    words = _("Use {there} here: it lies closer to the notes around it than {here}.")
    return words.format(there=there, here=here)
