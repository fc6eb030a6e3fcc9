"""What the notes look like while they are being typed: each line for one instrument, or where it is wrong."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from django.utils.safestring import SafeString

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band
from exercises.drawing.two_screens import Engravings
from exercises.music.engraving import Engraving, engrave, line_svg
from exercises.music.errors import MusicError
from exercises.music.part import Part, RangeVerdict
from exercises.music.score import Line
from exercises.parts import SIZES, Layout, PartRules, band_rules, part_by_rules

VERDICT_WORDS = {
    RangeVerdict.COMFORTABLE: "Fits",
    RangeVerdict.STRETCH: "A stretch",
    RangeVerdict.OUTSIDE: "Outside",
}
#: Letters shown before and after a fault.
AROUND = 28
_WORD_END = re.compile(r"[\s|]")


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong in a typed text, and the letters it is about.

    position, length  in UTF-16 units, as a browser counts what is selected
    """

    message: str
    before: str
    at: str
    after: str
    position: int
    length: int


@dataclass(frozen=True, slots=True)
class PreviewedLine:
    """One line as the chosen instrument reads it; `fault` instead of the drawing when it cannot be read."""

    label: str
    fault: Fault | None = None
    wide: SafeString | None = None
    narrow: SafeString | None = None
    verdict: str = ""
    warnings: tuple[str, ...] = ()


def pointed(message: str, text: str, position: int | None) -> Fault:
    """The fault with the word it stands at; a place beyond the text means its end."""
    start = min(position or 0, len(text))
    found = _WORD_END.search(text, start + 1)
    end = found.start() if found else len(text)
    before = text[max(0, start - AROUND) : start].rpartition("\n")[2]
    after = text[end : end + AROUND].partition("\n")[0]
    return Fault(
        message=message,
        before=before,
        at=text[start:end],
        after=after,
        position=_utf16(text[:start]),
        length=_utf16(text[start:end]),
    )


def _utf16(text: str) -> int:
    return len(text.encode("utf-16-le")) // 2


def preview(
    *,
    band: Band,
    instrument: str,
    labels: Sequence[str],
    lines: Mapping[str, Line],
    faults: Mapping[str, Fault],
    written_for: str = "",
) -> tuple[PreviewedLine, ...]:
    """Every line that can be read, drawn for `instrument`; the others with what is wrong.

    lines, faults  by label; a label in neither has nothing typed yet
    """
    rules = band_rules(band=band, instrument=instrument)
    if written_for == instrument:
        rules = replace(rules, octave=0)
    together = tuple(lines.values())
    return tuple(
        _previewed(label, lines.get(label), faults.get(label), rules=rules, together=together)
        for label in labels
    )


def _previewed(
    label: str, line: Line | None, fault: Fault | None, *, rules: PartRules, together: tuple[Line, ...]
) -> PreviewedLine:
    if line is None:
        return PreviewedLine(label, fault=fault)
    try:
        part = part_by_rules(line, rules=rules, together=together)
        engraved = Engravings(_engraved(part, rules, Layout.DESK), _engraved(part, rules, Layout.PHONE))
        name = f"Line {part.line.label} for {Instrument(part.instrument_id).label}"
        drawn = engraved.drawn(
            lambda engraving, screen: line_svg(engraving, label=name, css_class=screen.css_class)
        )
    except MusicError as error:
        return PreviewedLine(label, fault=Fault(error.message, "", "", "", 0, 0))
    return PreviewedLine(
        label,
        wide=drawn.wide,
        narrow=drawn.narrow,
        verdict=VERDICT_WORDS[part.verdict],
        warnings=part.warnings,
    )


def _engraved(part: Part, rules: PartRules, layout: Layout) -> Engraving:
    size = SIZES[layout]
    return engrave(
        part,
        prefix=f"look{part.line.label}-{layout}",
        width_px=size.width_px,
        bars_per_system=size.bars_per_system,
        courtesy=rules.courtesy,
    )
