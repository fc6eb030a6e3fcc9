"""Roots as a drawing: ticks that grow down under the printed notes, brackets over the most shared places.

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
#: The tallest root: between two systems there is only so much room, under a single one there is more.
TALLEST_BETWEEN, TALLEST_ALONE = 50.0, 118.0
#: From the ink to the first tick, and what the number under the last takes.
AIR, NUMBER = 5.0, 16.0
#: From the ink up to the bracket's foot, its height, and the number over it.
BRACKET_AIR, BRACKET, BRACKET_NUMBER = 5.0, 8.0, 18.0


def above() -> float:
    """Room needed above the first system."""
    return BRACKET_AIR + BRACKET + BRACKET_NUMBER


def depth(engraving: "Engraving", roots: SectionMisses) -> float:
    """Room needed under the last system."""
    last = len(engraving.systems) - 1
    tallest = max(
        (root.missed + root.unsure for root in roots.notes if _place(engraving, root).system == last),
        default=0,
    )
    return AIR + tallest * _tick(engraving, roots) + NUMBER if tallest else 0.0


def overlay(engraving: "Engraving", *, roots: SectionMisses, places: Sequence[MissedPlace]) -> str:
    """Markup to lie over the engraving."""
    ranks = {number: place.rank for place in places for number in place.notes}
    high, width = _tick(engraving, roots), _width(engraving, roots)
    drawn = [
        part
        for root in roots.notes
        for part in _root(engraving, root, high=high, width=width, is_ranked=root.note.number in ranks)
    ]
    return f'<g class="roots">{"".join(drawn)}</g>{"".join(_brackets(engraving, roots, ranks))}'


def _root(
    engraving: "Engraving", root: NoteMisses, *, high: float, width: float, is_ranked: bool
) -> Iterator[str]:
    if not root.missed + root.unsure:
        return
    place = _place(engraving, root)
    top = engraving.systems[place.system].ink_bottom + AIR
    kinds = ["roots__tick"] * root.same
    kinds += ["roots__tick roots__tick--other"] * (root.missed - root.same)
    kinds += ["roots__tick roots__tick--other roots__tick--unsure"] * root.unsure
    gap = 1.0 if high > 3 else 0.0
    for index, kind in enumerate(kinds):
        yield (
            f'<rect class="{kind}" x="{place.x - width / 2:.1f}" y="{top + index * high:.1f}" '
            f'width="{width:.1f}" height="{high - gap:.2f}"/>'
        )
    if root.missed:
        few = "" if is_ranked else ' class="roots__few"'
        y = top + len(kinds) * high + NUMBER - 3
        yield f'<text{few} x="{place.x:.1f}" y="{y:.1f}">{root.missed}</text>'


def _brackets(engraving: "Engraving", roots: SectionMisses, ranks: Mapping[int, int]) -> Iterator[str]:
    half = _width(engraving, roots) / 2 + 3
    for root in roots.notes:
        rank = ranks.get(root.note.number)
        if rank is None:
            continue
        place = _place(engraving, root)
        foot = engraving.systems[place.system].ink_top - BRACKET_AIR
        yield (
            f'<path class="bracket" d="M{place.x - half:.1f} {foot:.1f}v-{BRACKET:g}h{2 * half:.1f}'
            f'v{BRACKET:g}"/><text class="bracket__say" x="{place.x:.1f}" y="{foot - BRACKET - 5:.1f}">'
            f"{rank}</text>"
        )


def _place(engraving: "Engraving", root: NoteMisses) -> "NotePlace":
    return engraving.notes[root.note.first]


def _tick(engraving: "Engraving", roots: SectionMisses) -> float:
    """Height of one player, the same all over the drawing."""
    tallest = TALLEST_ALONE if len(engraving.systems) == 1 else TALLEST_BETWEEN
    return max(LOWEST, min(HIGHEST, tallest / max(1, roots.most)))


def _width(engraving: "Engraving", roots: SectionMisses) -> float:
    """As wide as the closest two notes leave room for."""
    noted = [_place(engraving, root) for root in roots.notes]
    gaps = [other.x - one.x for one, other in pairwise(noted) if one.system == other.system]
    return max(NARROWEST, min([WIDEST, *(gap - AIR_BESIDE for gap in gaps)]))
