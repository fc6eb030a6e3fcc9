"""Where does everything stand on an engraved page? Reads verovio's SVG tree, tidies it and stacks its
systems.

Coordinates inside the tree are verovio's units (180 to a staff space); results are CSS pixels of the drawing.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from lxml import etree

from exercises.music.engraver import STAFF_SPACE, GlyphBox, glyph_boxes
from exercises.music.errors import MusicError

#: Notes closer than this (right edge of one head to left edge of the next, its sign included) read badly.
#: The engraver's own closest spacing is half a staff space; less than that means that it squeezed.
CLOSEST_NOTES = 0.4 * STAFF_SPACE
#: Room between a bar line, key or clef and the first beat.
LEAD_IN = 1.2 * STAFF_SPACE

_SVG = "{http://www.w3.org/2000/svg}"
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_SPACES = re.compile(r">\s+<")
_BEFORE_THE_NOTES = frozenset({"clef", "keySig", "meterSig"})
_UNSEEN = frozenset(
    {"placeholder", "pageMilestone", "systemMilestoneEnd", "pageMilestoneEnd", "tempo", "mNum"}
)
_DROPPED_ATTRIBUTES = ("overflow", "color")


@dataclass(slots=True)
class InkBox:
    left: float
    top: float
    right: float
    bottom: float

    def joined(self, other: "InkBox") -> "InkBox":
        return InkBox(
            min(self.left, other.left),
            min(self.top, other.top),
            max(self.right, other.right),
            max(self.bottom, other.bottom),
        )

    @property
    def middle(self) -> tuple[float, float]:
        return (self.left + self.right) / 2, (self.top + self.bottom) / 2


@dataclass(frozen=True, slots=True)
class HeadPlace:
    """Middle of a note head or rest in pixels, its system, and middle and top of the sign in front of it."""

    x: float
    y: float
    system: int
    sign: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class BarEdges:
    left: float
    right: float
    system: int


@dataclass(slots=True)
class System:
    """One system; edges in verovio's units until the page is stacked."""

    element: etree._Element
    staff: InkBox
    ink: InkBox
    scale: float = 1.0
    origin: tuple[float, float] = (0.0, 0.0)

    def x(self, units: float) -> float:
        return (units + self.origin[0]) * self.scale

    def y(self, units: float) -> float:
        return (units + self.origin[1]) * self.scale

    def over(self, box: InkBox) -> tuple[float, float]:
        """Middle and top of a sign in pixels: where something that points to it begins."""
        return round(self.x(box.middle[0]), 2), round(self.y(box.top), 2)

    def key_signs(self) -> tuple[tuple[float, float], ...]:
        """Middle and top of each sign of its key signature, in pixels, in order."""
        boxes = (ink_box(sign) for sign in _groups(self.element, "keyAccid"))
        return tuple(self.over(box) for box in boxes if box is not None)

    def edges(self) -> tuple[float, float, float, float, float, float]:
        """left, right, top, bottom, ink_top, ink_bottom in pixels."""
        staff, ink = self.staff, self.ink
        return (
            round(self.x(staff.left), 2),
            round(self.x(staff.right), 2),
            round(self.y(staff.top), 2),
            round(self.y(staff.bottom), 2),
            round(self.y(ink.top), 2),
            round(self.y(ink.bottom), 2),
        )


@dataclass(slots=True)
class EngravedPage:
    defs: etree._Element
    prefix: str
    scale: float
    systems: list[System] = field(default_factory=list)
    notes: list[HeadPlace] = field(default_factory=list)
    bars: list[BarEdges] = field(default_factory=list)
    crowded: bool = False
    height: float = 0.0

    @property
    def closest_notes_px(self) -> float:
        """Least room from the middle of a note to that of the next one on its system."""
        pairs = ((a, b) for a, b in pairwise(self.notes) if a.system == b.system)
        return min((b.x - a.x for a, b in pairs), default=float("inf"))

    def svg(self) -> str:
        """`<defs>` and the systems, stacked, in one group."""
        for system in self.systems:
            system.element.set("transform", f"translate({system.origin[0]:.6g} {system.origin[1]:.6g})")
        drawn = "".join(_markup(system.element) for system in self.systems)
        return (
            f'{_markup(self.defs)}<g class="score" fill="currentColor">'
            f'<g transform="scale({self.scale:.6g})">{drawn}</g></g>'
        )


def read_page(root: etree._Element, *, prefix: str, note_count: int, system_gap_px: float) -> EngravedPage:
    """Places, tidied drawing and stacked systems of one page.

    Raises MusicError when a note of the part is missing from the drawing.
    """
    defs = root.find(f"{_SVG}defs")
    inner = root.find(f"{_SVG}svg")
    if defs is None or inner is None:
        raise MusicError("This line could not be engraved: the drawing is empty.")
    scale = _view_width(root) / _view_width(inner)
    margin = next(g for g in inner.iter(f"{_SVG}g") if "page-margin" in (g.get("class") or ""))
    margin_x = _numbers(margin.get("transform") or "")[0]
    _tidy(root, defs, inner, prefix)
    page = EngravedPage(defs, prefix, scale)
    places: dict[str, HeadPlace] = {}
    bars: dict[str, BarEdges] = {}
    next_top = 0.0
    for index, element in enumerate(g for g in margin.iter(f"{_SVG}g") if g.get("class") == "system"):
        system = _system(element, scale)
        system.origin = (margin_x, next_top / scale - system.ink.top)
        next_top += (system.ink.bottom - system.ink.top) * scale + system_gap_px
        page.systems.append(system)
        _read_system(system, index, page, places, bars)
    page.height = next_top - system_gap_px
    try:
        page.notes = [places[f"{prefix}-n{number}"] for number in range(note_count)]
    except KeyError as error:
        raise MusicError("This line could not be engraved: a note is missing from the drawing.") from error
    page.bars = [bars[f"{prefix}-b{number}"] for number in range(len(bars))]
    return page


def _read_system(
    system: System, index: int, page: EngravedPage, places: dict[str, HeadPlace], bars: dict[str, BarEdges]
) -> None:
    for measure in _groups(system.element, "measure"):
        staff = _staff_lines(measure)
        bars[measure.get("id") or ""] = BarEdges(system.x(staff.left), system.x(staff.right), index)
        opening = [ink_box(g) for kind in _BEFORE_THE_NOTES for g in _groups(measure, kind)]
        edge = max((box.right for box in opening if box), default=staff.left)
        first_beat = edge + LEAD_IN
        before: list[InkBox] = []
        for note in _notes(measure):
            pieces = _pieces(note)
            if not pieces:
                raise MusicError("This line could not be engraved: a note is missing from the drawing.")
            x, y = pieces[0].middle
            if note.get("class") == "mRest":
                x = first_beat
            sign = _sign(note)
            places[note.get("id") or ""] = HeadPlace(
                system.x(x), system.y(y), index, system.over(sign) if sign else None
            )
            if before:
                page.crowded |= _crowd(before, pieces)
            else:
                page.crowded |= min(piece.left for piece in pieces) - edge < CLOSEST_NOTES
            before = pieces
        page.crowded |= bool(before) and staff.right - max(piece.right for piece in before) < CLOSEST_NOTES


def _crowd(before: Sequence[InkBox], after: Sequence[InkBox]) -> bool:
    """Whether two notes stand too close: heads always, signs and dots where they are at one height.

    The engraver tucks a sign over or under the note before when they lie far apart, and that is well.
    """
    if after[0].left - before[0].right < CLOSEST_NOTES:
        return True
    return any(
        right.left - left.right < CLOSEST_NOTES and left.top < right.bottom and right.top < left.bottom
        for left in before
        for right in after
    )


def _system(element: etree._Element, scale: float) -> System:
    staffs = [_staff_lines(measure) for measure in _groups(element, "measure")]
    staff = staffs[0]
    for other in staffs[1:]:
        staff = staff.joined(other)
    ink = ink_box(element)
    return System(element, staff, ink.joined(staff) if ink else staff, scale)


def _groups(element: etree._Element, kind: str) -> Iterator[etree._Element]:
    return (g for g in element.iter(f"{_SVG}g") if (g.get("class") or "").split(" ")[0] == kind)


def _notes(measure: etree._Element) -> list[etree._Element]:
    """Notes and rests of a bar in the order of the page."""
    return [g for g in measure.iter(f"{_SVG}g") if g.get("class") in ("note", "rest", "mRest")]


def _staff_lines(measure: etree._Element) -> InkBox:
    """Box of the staff lines of one bar."""
    staff = next(_groups(measure, "staff"))
    lines = [_numbers(path.get("d") or "") for path in staff.findall(f"{_SVG}path")]
    xs = [value for line in lines for value in line[::2]]
    ys = [value for line in lines for value in line[1::2]]
    return InkBox(min(xs), min(ys), max(xs), max(ys))


def _pieces(note: etree._Element) -> list[InkBox]:
    """Boxes of the head or rest first, then of sign and dots; stems and flags may reach over the next."""
    heads = list(_groups(note, "notehead"))
    head = ink_box(heads[0]) if heads else ink_box(note)
    if head is None:
        return []
    kinds = ("accid", "dots")
    others = (ink_box(child) for child in note if (child.get("class") or "").split(" ")[0] in kinds)
    return [head, *(box for box in others if box is not None)] if heads else [head]


def _sign(note: etree._Element) -> InkBox | None:
    """Box of the sign in front of a note, its parentheses included."""
    drawn = next((child for child in note if child.get("class") == "accid"), None)
    return None if drawn is None else ink_box(drawn)


def ink_box(element: etree._Element) -> InkBox | None:
    """Box of everything drawn in a group; curves by their control points, a little too large."""
    box: InkBox | None = None
    for child in element.iter():
        drawn = _drawn(child)
        if drawn is not None:
            box = drawn if box is None else box.joined(drawn)
    return box


def _drawn(element: etree._Element) -> InkBox | None:
    match element.tag:
        case "{http://www.w3.org/2000/svg}use":
            x, y, scale, *_ = _numbers(element.get("transform") or "")
            return _glyph(glyph_boxes()[(element.get("href") or "")[-4:]], x, y, scale)
        case "{http://www.w3.org/2000/svg}path":
            values = _numbers(element.get("d") or "")
        case "{http://www.w3.org/2000/svg}polygon":
            values = _numbers(element.get("points") or "")
        case "{http://www.w3.org/2000/svg}ellipse":
            cx, cy, rx, ry = (float(element.get(name, "0")) for name in ("cx", "cy", "rx", "ry"))
            values = [cx - rx, cy - ry, cx + rx, cy + ry]
        case "{http://www.w3.org/2000/svg}rect":
            x, y, width, height = (float(element.get(name, "0")) for name in ("x", "y", "width", "height"))
            values = [x, y, x + width, y + height]
        case _:
            return None
    xs, ys = values[::2], values[1::2]
    return InkBox(min(xs), min(ys), max(xs), max(ys))


def _glyph(box: GlyphBox, x: float, y: float, scale: float) -> InkBox:
    left, top = x + scale * box.x, y - scale * (box.y + box.height)
    return InkBox(left, top, left + scale * box.width, top + scale * box.height)


def _tidy(root: etree._Element, defs: etree._Element, inner: etree._Element, prefix: str) -> None:
    """Ids of our own only, glyphs under the prefix, strokes as attributes, nothing that draws nothing."""
    suffix = root.get("id") or ""
    for glyph in defs:
        glyph.set("id", f"{prefix}-{(glyph.get('id') or '')[:4]}")
    for element in list(inner.iter()):
        classes = set((element.get("class") or "").split(" "))
        if not isinstance(element.tag, str) or classes & _UNSEEN:
            _remove(element)
            continue
        ident = element.get("id")
        if ident and not ident.startswith(f"{prefix}-"):
            del element.attrib["id"]
        for name in _DROPPED_ATTRIBUTES:
            element.attrib.pop(name, None)
        href = element.get("href")
        if href:
            element.set("href", f"#{prefix}-{href[1:5]}" if href.endswith(suffix) else href)
        if element.get("stroke-width") and element.tag != f"{_SVG}g":
            element.set("stroke", "currentColor")


def _remove(element: etree._Element) -> None:
    parent = element.getparent()
    if parent is not None:
        parent.remove(element)


def _markup(element: etree._Element) -> str:
    text: str = etree.tostring(element, encoding="unicode", with_tail=False)
    return _SPACES.sub("><", re.sub(r' xmlns(:\w+)?="[^"]*"', "", text))


def _numbers(text: str) -> list[float]:
    return [float(number) for number in _NUMBER.findall(text)]


def _view_width(svg: etree._Element) -> float:
    return _numbers(svg.get("viewBox") or "")[2]
