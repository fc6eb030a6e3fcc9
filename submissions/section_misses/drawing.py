"""What a section missed as a drawing: ticks grow down under the notes, brackets stand over the shared places.

One SVG with the engraving, so that ticks and notes cannot drift apart. Filled: the same other note; open:
something else or not heard; open and dashed: unsure. Note heads are never touched, and every tick is in the
words beside the drawing. No style attributes: forms carry classes, places are SVG attributes.
"""

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from submissions.section_misses.misses import NoteMisses, SectionMisses
from submissions.section_misses.places import MissedPlace

if TYPE_CHECKING:
    from exercises.music.engraving import Engraving, NotePlace

#: Widest and narrowest tick, and the air to the next note's.
WIDEST, NARROWEST, AIR_BESIDE = 18.0, 7.0, 4.0
#: Highest and lowest tick; many players make low ones.
HIGHEST, LOWEST = 6.5, 1.5
#: The tallest column: between two systems there is only so much room, under a single one there is more.
TALLEST_BETWEEN, TALLEST_ALONE = 50.0, 118.0
#: From the ink to the first tick, and what the number under the last takes.
AIR, NUMBER = 5.0, 16.0
#: From the ink up to the bracket's foot, its height, and the number over it.
BRACKET_AIR, BRACKET, BRACKET_NUMBER = 5.0, 8.0, 18.0


def above() -> float:
    """Room needed above the first system."""
    return BRACKET_AIR + BRACKET + BRACKET_NUMBER


def depth(engraving: "Engraving", counted: SectionMisses) -> float:
    """Room needed under the last system."""
    last = len(engraving.systems) - 1
    tallest = max(
        (
            misses.missed + misses.unsure
            for misses in counted.notes
            if _place(engraving, misses).system == last
        ),
        default=0,
    )
    return AIR + tallest * _tick(engraving, counted) + NUMBER if tallest else 0.0


def overlay(engraving: "Engraving", *, counted: SectionMisses, places: Sequence[MissedPlace]) -> str:
    """Markup to lie over the engraving."""
    ranks = {number: place.rank for place in places for number in place.notes}
    high, width = _tick(engraving, counted), _width(engraving, counted)
    drawn = [
        part
        for misses in counted.notes
        for part in _ticks(engraving, misses, high=high, width=width, is_ranked=misses.note.number in ranks)
    ]
    return f'<g class="roots">{"".join(drawn)}</g>{"".join(_brackets(engraving, counted, ranks))}'


def _ticks(
    engraving: "Engraving", misses: NoteMisses, *, high: float, width: float, is_ranked: bool
) -> Iterator[str]:
    if not misses.missed + misses.unsure:
        return
    place = _place(engraving, misses)
    top = engraving.systems[place.system].ink_bottom + AIR
    kinds = ["roots__tick"] * misses.same
    kinds += ["roots__tick roots__tick--other"] * (misses.missed - misses.same)
    kinds += ["roots__tick roots__tick--other roots__tick--unsure"] * misses.unsure
    gap = 1.0 if high > 3 else 0.0
    for index, kind in enumerate(kinds):
        yield (
            f'<rect class="{kind}" x="{place.x - width / 2:.1f}" y="{top + index * high:.1f}" '
            f'width="{width:.1f}" height="{high - gap:.2f}"/>'
        )
    if misses.missed:
        few = "" if is_ranked else ' class="roots__few"'
        y = top + len(kinds) * high + NUMBER - 3
        yield f'<text{few} x="{place.x:.1f}" y="{y:.1f}">{misses.missed}</text>'


def _brackets(engraving: "Engraving", counted: SectionMisses, ranks: Mapping[int, int]) -> Iterator[str]:
    half = _width(engraving, counted) / 2 + 3
    for misses in counted.notes:
        rank = ranks.get(misses.note.number)
        if rank is None:
            continue
        place = _place(engraving, misses)
        foot = engraving.systems[place.system].ink_top - BRACKET_AIR
        yield (
            f'<path class="bracket" d="M{place.x - half:.1f} {foot:.1f}v-{BRACKET:g}h{2 * half:.1f}'
            f'v{BRACKET:g}"/><text class="bracket__say" x="{place.x:.1f}" y="{foot - BRACKET - 5:.1f}">'
            f"{rank}</text>"
        )


def _place(engraving: "Engraving", misses: NoteMisses) -> "NotePlace":
    return engraving.notes[misses.note.first]


def _tick(engraving: "Engraving", counted: SectionMisses) -> float:
    """Height of one player, the same all over the drawing."""
    tallest = TALLEST_ALONE if len(engraving.systems) == 1 else TALLEST_BETWEEN
    return max(LOWEST, min(HIGHEST, tallest / max(1, counted.most)))


def _width(engraving: "Engraving", counted: SectionMisses) -> float:
    """As wide as the closest two notes leave room for."""
    noted = [_place(engraving, misses) for misses in counted.notes]
    gaps = [other.x - one.x for one, other in pairwise(noted) if one.system == other.system]
    return max(NARROWEST, min([WIDEST, *(gap - AIR_BESIDE for gap in gaps)]))
