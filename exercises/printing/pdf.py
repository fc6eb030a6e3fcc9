"""Parts as a PDF, one instrument after another, each on a page of its own."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from django.template.loader import render_to_string
from django.utils.html import format_html_join
from django.utils.safestring import SafeString, mark_safe

from bandroom.people.instruments import Instrument
from bandroom.people.paper import Paper
from bandroom.people.printing.pdf import pdf_of
from exercises.drawing.lines import spoken_line
from exercises.drawing.name_rows import NAMES_BELOW, ROWS_ROOM, names_overlay
from exercises.models import Exercise, ExerciseLine
from exercises.music.engraving import Engraving, line_svg, px
from exercises.music.keys import key_words
from exercises.pages.reading_guide import ReadingGuide, reading_guide
from exercises.parts import Layout, engraved_line, part_of

SHEET = Path(__file__).parent / "sheet.css"
#: Inside a drawing the rules of the page do not reach: its letters bring their own. Shorthands are not read.
DRAWING_STYLE = (
    "<style>.names text{font-family:Atkinson;font-weight:700;font-size:15px;text-anchor:middle;fill:#23172f}"
    ".names .names__count{font-weight:400;font-size:12px;fill:#574a66}"
    ".names__held{stroke:#23172f;stroke-width:1.2}.pencil{stroke:#b9adc8;stroke-width:0.7}</style>"
)


@dataclass(frozen=True, slots=True)
class PrintedLine:
    label: str
    caption: str
    tempo: int
    svg: SafeString
    guide: ReadingGuide | None


@dataclass(frozen=True, slots=True)
class PrintedPart:
    instrument: Instrument
    key: str
    lines: tuple[PrintedLine, ...]


def parts_pdf(*, exercise: Exercise, instruments: Sequence[Instrument], paper: Paper, guide: bool) -> bytes:
    """The parts of these instruments.

    guide  with letter names, counts, watch notes and reasons; without, bare for pencil work
    Raises MusicError when a part cannot be made.
    """
    html = render_to_string(
        "exercises/parts_on_paper.html",
        {
            "exercise": exercise,
            "band": exercise.band,
            "parts": [printed_part(exercise=exercise, instrument=each, guide=guide) for each in instruments],
            "paper": paper,
            "guide": guide,
        },
    )
    return pdf_of(html, styles=[SHEET])


def printed_part(*, exercise: Exercise, instrument: Instrument, guide: bool) -> PrintedPart:
    lines = tuple(_printed_line(line, instrument=instrument, guide=guide) for line in exercise.lines.all())
    first = part_of(line=exercise.lines.all()[0], instrument=instrument)
    key = key_words(first.line.fifths) if first.instrument.pitched else ""
    return PrintedPart(instrument=instrument, key=key, lines=lines)


def _printed_line(line: ExerciseLine, *, instrument: Instrument, guide: bool) -> PrintedLine:
    part = part_of(line=line, instrument=instrument)
    engraving = engraved_line(
        line=line,
        instrument=instrument,
        layout=Layout.PAPER,
        prefix=f"{instrument.value}-{line.label}".replace("_", "-"),
    )
    rows = names_overlay(engraving, part, names=True, counted=True) if guide else _pencil_rows(engraving)
    svg = line_svg(engraving, overlay=DRAWING_STYLE + rows, label=spoken_line(part), pad_bottom=ROWS_ROOM)
    return PrintedLine(
        label=line.label,
        caption=line.caption,
        tempo=line.tempo_bpm,
        svg=mark_safe(svg),  # noqa: S308 - the engine and format_html escape all that is drawn
        guide=reading_guide(line=line, instrument=instrument) if guide else None,
    )


def _pencil_rows(engraving: Engraving) -> SafeString:
    """A faint line under each system, to write names or counts on."""
    rows = ((f"M{px(s.left)} {px(s.ink_bottom + NAMES_BELOW + 6)}H{px(s.right)}",) for s in engraving.systems)
    return format_html_join("", '<path class="pencil" d="{}"/>', rows)
