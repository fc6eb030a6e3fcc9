"""How do many parts look under each other, bar line under bar line?

All parts of one line are engraved as one score, so that the engraver gives every bar the same room in each;
then each part is cut out of the drawing and read like a page of its own.
"""

import re
from collections.abc import Iterator, Sequence
from copy import deepcopy

from lxml import etree

from exercises.music.engraved_page import EngravedPage, ink_box, read_page
from exercises.music.engraver import draw
from exercises.music.engraving import SCALES as ALL_SCALES
from exercises.music.engraving import SYSTEM_GAP_PX, Engraving, engraving_of
from exercises.music.errors import MusicError
from exercises.music.musicxml_out import check_prefix, part_to_musicxml, system_starts
from exercises.music.part import Part

_SVG = "{http://www.w3.org/2000/svg}"
_LISTED = re.compile(r"<part-list>(.*?)</part-list>", re.DOTALL)
_BODY = re.compile(r"</part-list>(.*)</score-partwise>", re.DOTALL)
#: Rows of a wall are low: the two largest sizes of a single line are passed over.
SCALES = ALL_SCALES[2:]
#: What belongs to a bar and not to one of its staves in the engraver's tree.
_BESIDE_THE_STAVES = frozenset({"barLine", "tie"})


def engrave_aligned(
    parts: Sequence[Part],
    *,
    prefix: str,
    width_px: int,
    bars_per_system: int,
    courtesy: bool = True,
) -> tuple[Engraving, ...]:
    """One engraving a part, in order, all `width_px` wide with the same bar lines. Ids of the first part
    begin with `prefix` and "0-", of the second with `prefix` and "1-", and so on.

    All parts must be of one line. Raises MusicError if they are not, or for a line too full for the width.
    """
    check_prefix(prefix)
    if not parts:
        return ()
    if len({(len(part.line.bars), len(part.line.notes), part.line.metre) for part in parts}) > 1:
        raise MusicError("Only parts of one line can stand under each other.")
    bar_count = len(parts[0].line.bars)
    for bars in range(min(bars_per_system, bar_count), 0, -1):
        expected = len(system_starts(bar_count, bars))
        for scale in SCALES:
            pages: list[EngravedPage] = []
            for page in _pages(parts, prefix, width_px, bars, scale, courtesy):
                if len(page.systems) != expected or page.crowded:
                    break
                pages.append(page)
            if len(pages) == len(parts):
                return tuple(
                    engraving_of(part, page, width_px=width_px)
                    for part, page in zip(parts, pages, strict=True)
                )
    raise MusicError("A bar of this line has too many notes for this width: make the page wider.")


def _pages(
    parts: Sequence[Part], prefix: str, width_px: int, bars: int, scale: int, courtesy: bool
) -> Iterator[EngravedPage]:
    """Page after page, read when it is asked for: the first crowded one ends a size."""
    scores = [
        part_to_musicxml(part, prefix=f"{prefix}{number}", tempo=72, courtesy=courtesy, bars_per_system=bars)
        for number, part in enumerate(parts)
    ]
    listed = "".join(_LISTED.search(score)[1] for score in scores)  # type: ignore[index]  # our own text
    bodies = "".join(_BODY.search(score)[1] for score in scores)  # type: ignore[index]  # our own text
    head = scores[0].partition("<part-list>")[0]
    xml = f"{head}<part-list>{listed}</part-list>{bodies}</score-partwise>"
    tree = draw(xml, width_px=width_px, scale=scale, last_justified_from=0.0)
    _shorten_glyph_names(tree)
    for number, part in enumerate(parts):
        yield read_page(
            _cut_out(tree, number, prefix),
            prefix=f"{prefix}{number}",
            note_count=len(part.line.notes),
            system_gap_px=SYSTEM_GAP_PX,
        )


def _shorten_glyph_names(tree: etree._Element) -> None:
    """Signs by their code alone ("E0A4"): the engraver hangs the drawing's random name on each."""
    tree.set("id", "")
    for glyph in tree.findall(f"{_SVG}defs/*"):
        glyph.set("id", (glyph.get("id") or "")[:4])
    for use in tree.iter(f"{_SVG}use"):
        use.set("href", (use.get("href") or "")[:5])


def _cut_out(tree: etree._Element, number: int, prefix: str) -> etree._Element:
    """The drawing with the staves of one part alone."""
    tree = deepcopy(tree)
    for group in list(tree.iter(f"{_SVG}g")):
        if group.get("class") == "system":
            for joining_line in group.findall(f"{_SVG}path"):
                group.remove(joining_line)
        elif group.get("class") == "measure":
            _keep_staff(group, number)
            group.set("id", (group.get("id") or "").replace(f"{prefix}0-", f"{prefix}{number}-", 1))
    _drop_unused_glyphs(tree)
    return tree


def _keep_staff(measure: etree._Element, number: int) -> None:
    staves = [child for child in measure if child.get("class") == "staff"]
    boxes = [ink_box(staff) for staff in staves]
    for child in list(measure):
        if child.get("class") not in _BESIDE_THE_STAVES:
            continue
        for stroke in list(child):
            ink = ink_box(stroke)
            distances = [
                max(box.top - ink.bottom, ink.top - box.bottom, 0.0) if box and ink else 0.0 for box in boxes
            ]
            if ink is None or distances.index(min(distances)) != number:
                child.remove(stroke)
        if not len(child):
            measure.remove(child)
    for place, staff in enumerate(staves):
        if place != number:
            measure.remove(staff)


def _drop_unused_glyphs(tree: etree._Element) -> None:
    used = {(element.get("href") or "")[1:] for element in tree.iter(f"{_SVG}use")}
    for defs in tree.findall(f"{_SVG}defs"):
        for glyph in list(defs):
            if glyph.get("id") not in used:
                defs.remove(glyph)
