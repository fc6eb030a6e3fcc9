"""How does a part look on the page? One line engraved for a width, with the place of every note.

The drawing is self-contained: no <style>, no style attribute, no text, no outside reference, ids only with
the prefix that the caller gives. Lines carry their stroke as an attribute, so a strict content security
policy does not blank the staff. All places are in the CSS pixels of the drawing.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction
from html import escape
from typing import TYPE_CHECKING, Any, Self

from exercises.music.errors import MusicError
from exercises.music.musicxml_out import check_prefix, part_to_musicxml, system_starts
from exercises.music.part import Part, RangeVerdict
from exercises.music.score import NoteRef

if TYPE_CHECKING:
    from exercises.music.engraved_page import EngravedPage

#: Sizes tried, largest first (a staff of 37 px down to 23 px): the first that leaves every note its room
#: wins. The small ones (down to 19 px) are for a single bar that is too full for anything else.
SCALES = (52, 46, 41, 36, 32)
SMALL_SCALES = (29, 26)
NARROWEST_PX, WIDEST_PX = 200, 4000
#: A line on one system ends where the line under it ends, unless it is very short; a last system of few bars
#: is left at its natural width.
ONLY_SYSTEM_STRETCHED_FROM = 0.5
LAST_SYSTEM_STRETCHED_FROM = 0.8
#: Room between the ink of one system and the next, for the eye alone; callers add room for overlays.
SYSTEM_GAP_PX = 14.0


@dataclass(frozen=True, slots=True)
class NotePlace:
    """One note or rest on the page.

    x, y          middle of the note head (of a rest: of its sign; a whole-bar rest has the x of its
                  first beat)
    sign          middle and top of the sign printed in front of it, None for none
    name, words   "B♭" and "B flat"; "rest" for a rest, "" for a drum stroke
    midi_written  written pitch, None for rests and drum strokes
    """

    index: int
    bar: int
    note: int
    beat: Fraction
    beats: Fraction
    start: Fraction
    x: float
    y: float
    system: int
    is_rest: bool
    tie_in: bool
    midi_written: int | None
    name: str
    words: str
    sign: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class BarPlace:
    """One bar from its left edge to its bar line; `index` from 0, `bar` as printed."""

    index: int
    bar: int
    left: float
    right: float
    system: int


@dataclass(frozen=True, slots=True)
class SystemPlace:
    """One system: `top` and `bottom` are the outer staff lines, `ink_top` and `ink_bottom` what is drawn.

    key  middle and top of each sign of its key signature, in their order
    """

    index: int
    left: float
    right: float
    top: float
    bottom: float
    ink_top: float
    ink_bottom: float
    key: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Engraving:
    """An engraved line. `svg` is `<defs>` and `<g class="score">`, to be wrapped by `line_svg`."""

    svg: str
    width: float
    height: float
    notes: tuple[NotePlace, ...]
    bars: tuple[BarPlace, ...]
    systems: tuple[SystemPlace, ...]
    fifths: int
    verdict: RangeVerdict

    def to_json(self) -> dict[str, Any]:
        """A plain dict for a cache; `from_json` gives an equal engraving back."""
        stored = asdict(self)
        for note in stored["notes"]:
            for name in ("beat", "beats", "start"):
                note[name] = str(note[name])
        return stored

    @classmethod
    def from_json(cls, stored: Mapping[str, Any]) -> Self:
        return cls(
            svg=stored["svg"],
            width=stored["width"],
            height=stored["height"],
            notes=tuple(_note_from_json(note) for note in stored["notes"]),
            bars=tuple(BarPlace(**bar) for bar in stored["bars"]),
            systems=tuple(
                SystemPlace(**{**system, "key": tuple((x, y) for x, y in system["key"])})
                for system in stored["systems"]
            ),
            fifths=stored["fifths"],
            verdict=RangeVerdict(stored["verdict"]),
        )


def _note_from_json(stored: Mapping[str, Any]) -> NotePlace:
    lengths = {name: Fraction(stored[name]) for name in ("beat", "beats", "start")}
    sign = tuple(stored["sign"]) if stored["sign"] else None
    return NotePlace(**{**stored, **lengths, "sign": sign})


def engrave(
    part: Part,
    *,
    prefix: str,
    width_px: int,
    bars_per_system: int,
    tempo: int = 72,
    courtesy: bool = True,
    system_gap_px: float = SYSTEM_GAP_PX,
    note_gap_px: float = 0.0,
) -> Engraving:
    """Draw a part for a width.

    prefix           begins every id of the drawing: a page may hold many
    width_px         width of the drawing in CSS pixels
    bars_per_system  most bars on a system; fewer are taken when notes would not get their room
    system_gap_px    room between the ink of two systems, for overlays under each
    note_gap_px      least room from the middle of a note to the next, for names under them; kept where any
                     number of bars on a system allows it

    Raises MusicError for a prefix, a width or a number of bars that cannot be used.
    """
    check_prefix(prefix)
    if not NARROWEST_PX <= width_px <= WIDEST_PX:
        raise MusicError(f"A line is between {NARROWEST_PX} and {WIDEST_PX} pixels wide.")
    if bars_per_system < 1:
        raise MusicError("A system has at least one bar.")
    pages = _pages(part, prefix, width_px, bars_per_system, tempo, courtesy, system_gap_px)
    page = _fitting(pages, note_gap_px)
    return engraving_of(part, page, width_px=width_px)


def engraving_of(part: Part, page: "EngravedPage", *, width_px: int) -> Engraving:
    """What was read off an engraved page, with the notes of the part it shows."""
    return Engraving(
        svg=page.svg(),
        width=float(width_px),
        height=page.height,
        notes=_note_places(part, page),
        bars=_bar_places(part, page),
        systems=tuple(
            SystemPlace(index, *system.edges(), key=system.key_signs())
            for index, system in enumerate(page.systems)
        ),
        fifths=part.line.fifths,
        verdict=part.verdict,
    )


def _fitting(pages: Iterator["EngravedPage"], note_gap_px: float) -> "EngravedPage":
    """The first page with that room between its notes, else the first of all."""
    first = None
    for page in pages:
        if page.closest_notes_px >= note_gap_px:
            return page
        first = first or page
    if first is None:
        raise MusicError("A bar of this line has too many notes for this width: make the page wider.")
    return first


def _pages(
    part: Part,
    prefix: str,
    width_px: int,
    bars_per_system: int,
    tempo: int,
    courtesy: bool,
    system_gap_px: float,
) -> Iterator["EngravedPage"]:
    """Pages on which no two notes crowd each other: most bars on a system first, then the largest."""
    # verovio loads when something is drawn: a page that shows a stored engraving never pays for it
    from exercises.music.engraved_page import read_page  # noqa: PLC0415
    from exercises.music.engraver import draw  # noqa: PLC0415

    bar_count = len(part.line.bars)
    layouts = [(bars, scale) for bars in range(min(bars_per_system, bar_count), 0, -1) for scale in SCALES]
    for bars, scale in (*layouts, *((1, scale) for scale in SMALL_SCALES)):
        expected = len(system_starts(bar_count, bars))
        stretch = ONLY_SYSTEM_STRETCHED_FROM if expected == 1 else LAST_SYSTEM_STRETCHED_FROM
        xml = part_to_musicxml(part, prefix=prefix, tempo=tempo, courtesy=courtesy, bars_per_system=bars)
        tree = draw(xml, width_px=width_px, scale=scale, last_justified_from=stretch)
        page = read_page(tree, prefix=prefix, note_count=len(part.line.notes), system_gap_px=system_gap_px)
        if len(page.systems) == expected and not page.crowded:
            yield page


def px(value: float) -> str:
    """A coordinate as drawings over an engraving carry it: to a tenth of a pixel."""
    return f"{value:.1f}"


def _note_places(part: Part, page: "EngravedPage") -> tuple[NotePlace, ...]:
    line = part.line
    return tuple(
        NotePlace(
            index=ref.index,
            bar=ref.bar,
            note=ref.note,
            beat=ref.beat,
            beats=note.beats,
            start=ref.start,
            x=round(page.notes[ref.index].x, 2),
            y=round(page.notes[ref.index].y, 2),
            system=page.notes[ref.index].system,
            is_rest=note.is_rest,
            tie_in=tied,
            midi_written=note.pitch.midi if note.pitch and part.instrument.pitched else None,
            name=_name(part, ref, printed=True),
            words=_name(part, ref, printed=False),
            sign=page.notes[ref.index].sign,
        )
        for note, ref, tied in zip(line.notes, line.refs(), line.tied_in(), strict=True)
    )


def _name(part: Part, ref: NoteRef, *, printed: bool) -> str:
    pitch = part.line.notes[ref.index].pitch
    if pitch is None:
        return "rest"
    if not part.instrument.pitched:
        return ""
    return pitch.printed_letter if printed else pitch.spoken


def _bar_places(part: Part, page: "EngravedPage") -> tuple[BarPlace, ...]:
    numbers = [number for number, _ in part.line.numbered_bars()]
    return tuple(
        BarPlace(index, number, round(bar.left, 2), round(bar.right, 2), bar.system)
        for index, (number, bar) in enumerate(zip(numbers, page.bars, strict=True))
    )


def line_svg(
    engraving: Engraving,
    *,
    overlay: str = "",
    label: str,
    css_class: str = "",
    role: str = "img",
    pad_top: float = 6.0,
    pad_bottom: float = 6.0,
    first_bar: int | None = None,
    last_bar: int | None = None,
) -> str:
    """The engraving and what lies over it as one `<svg class="line">`, so that they cannot drift apart.

    overlay              SVG markup in the drawing's pixels, already escaped
    label                what a screen reader says; escaped here
    role                 "img", or "group" when the overlay can be operated
    pad_top, pad_bottom  room above and below the ink, for the overlay
    first_bar, last_bar  indexes of bars (from 0) of one system to crop to
    """
    left, right = 0.0, engraving.width
    top, bottom = 0.0, engraving.height
    if first_bar is not None or last_bar is not None:
        left, right, top, bottom = _crop(engraving, first_bar, last_bar)
    box = [left, top - pad_top, right - left, bottom - top + pad_top + pad_bottom]
    name = f"line {css_class}".strip()
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{escape(name)}" role="{escape(role)}" '
        f'aria-label="{escape(label)}" viewBox="{" ".join(f"{value:.6g}" for value in box)}">'
        f"{engraving.svg}{overlay}</svg>"
    )


def _crop(engraving: Engraving, first: int | None, last: int | None) -> Sequence[float]:
    bars = engraving.bars[first : None if last is None else last + 1]
    if not bars or len({bar.system for bar in bars}) != 1:
        raise MusicError("Only bars of one system can be shown alone.")
    system = engraving.systems[bars[0].system]
    return bars[0].left, bars[-1].right, system.ink_top, system.ink_bottom
