"""How is MusicXML turned into a drawing? Everything that touches verovio.

Three traps, each held by a test: the resource path belongs to a thread, so it is set for every toolkit; a
toolkit is never shared, because loading and rendering of two requests would interleave; and loading broken
text reports success, so text is checked before it is loaded.
"""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Final

import verovio
from lxml import etree

from exercises.music.errors import MusicError

FONT: Final = "Leland"
VEROVIO_DATA: Final = os.path.join(os.path.dirname(verovio.__file__), "data")
#: verovio draws in tenths of its page units; 180 of them are one staff space.
STAFF_SPACE: Final = 180.0
#: Room above and below the music on verovio's page; cropped away afterwards.
_MARGIN_Y: Final = 60

# Sizes are tried until nothing is squeezed, so its warnings about squeezing are no news.
verovio.enableLog(verovio.LOG_ERROR)

_OPTIONS: Final[Mapping[str, Any]] = {
    "inputFrom": "xml",
    "adjustPageHeight": True,
    "breaks": "encoded",
    "pageHeight": 60000,
    "header": "none",
    "footer": "none",
    "svgViewBox": True,
    "svgRemoveXlink": True,
    "mnumInterval": 0,
    "font": FONT,
    "pageMarginLeft": 4,
    "pageMarginRight": 4,
    "pageMarginTop": _MARGIN_Y,
    "pageMarginBottom": _MARGIN_Y,
    "justifyVertically": False,
}


@dataclass(frozen=True, slots=True)
class GlyphBox:
    """Extent of a music sign around its origin, in thousandths of four staff spaces, y upward."""

    x: float
    y: float
    width: float
    height: float


@cache
def glyph_boxes() -> Mapping[str, GlyphBox]:
    """Boxes of all signs of the font by their code ("E0A4" is a black note head)."""
    tree = etree.parse(os.path.join(VEROVIO_DATA, f"{FONT}.xml"), safe_parser())
    return {
        row.get("c", ""): GlyphBox(*(float(row.get(name, "0")) for name in ("x", "y", "w", "h")))
        for row in tree.getroot().iter("g")
    }


def safe_parser() -> etree.XMLParser:
    """Reads XML without entities, document types from outside, or the network."""
    return etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False)


def toolkit() -> Any:
    """A fresh toolkit that works in any thread."""
    verovio.setDefaultResourcePath(VEROVIO_DATA)
    return verovio.toolkit()


def draw(musicxml: str, *, width_px: int, scale: int, last_justified_from: float) -> etree._Element:
    """The drawing of one page as an SVG tree; width in CSS pixels, `scale` in hundredths of verovio's size.

    `last_justified_from`: share of the width from which the last system is stretched to the full width; a
    shorter one keeps its natural spacing instead of being pulled across the page.
    Raises MusicError if the text is not a MusicXML part with notes, or if verovio does not take it.
    """
    check_musicxml(musicxml)
    engraver = toolkit()
    engraver.setOptions(
        {
            **_OPTIONS,
            "pageWidth": width_px * 100 // scale,
            "scale": scale,
            "minLastJustification": last_justified_from,
        }
    )
    engraver.resetXmlIdSeed(1)
    if not engraver.loadData(musicxml) or engraver.getPageCount() != 1:
        raise MusicError("This line could not be engraved: check its notes and try again.")
    svg: str = engraver.renderToSVG(1)
    return etree.fromstring(svg.encode(), safe_parser())


def check_musicxml(musicxml: str) -> None:
    """Refuse what verovio would take for music although it is not. The full schema is a matter of the
    tests.
    """
    try:
        root = etree.fromstring(musicxml.encode(), safe_parser())
    except etree.XMLSyntaxError as error:
        raise MusicError("This is not MusicXML: the text is broken.") from error
    if root.tag != "score-partwise" or root.get("version") != "4.0":
        raise MusicError("This is not a MusicXML 4.0 score.")
    if root.find("part/measure/note") is None:
        raise MusicError("There is no note in this score.")
