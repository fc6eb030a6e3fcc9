"""One line of a part drawn for a page: wide and narrow, with what lies over and under the notes."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from bandroom.people.instruments import Instrument
from exercises.drawing.name_rows import ROWS_ROOM, names_overlay
from exercises.drawing.reading_aids import READING_AID_ROOM, reading_aids
from exercises.drawing.spots import note_spots
from exercises.drawing.two_screens import Screen, engraved_twice
from exercises.models import ExerciseLine
from exercises.music.engraving import Engraving, line_svg
from exercises.music.part import Part
from exercises.music.reading import NoteReading
from exercises.parts import Layout, part_of, readings_of


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """A line for a wide and a narrow screen; both stand on the page, one is shown."""

    label: str
    caption: str
    tempo: int
    wide: SafeString
    narrow: SafeString


def drawn_line(
    *, line: ExerciseLine, instrument: str, prefix: str, names: bool = False, counted: bool = False
) -> DrawnLine:
    """The line for both screens: each note can be chosen and has a thread from what decides about it.

    prefix          begins the ids of both drawings, which add "w" and "n" to it
    names, counted  letter names and counts under the notes
    Raises MusicError.
    """
    part = part_of(line=line, instrument=instrument)
    readings = readings_of(part, line=line)
    layout = Layout.READING if names or counted else Layout.DESK

    def draw(engraving: Engraving, screen: Screen) -> str:
        return _drawn(engraving, part, readings, css_class=screen.css_class, rows=(names, counted))

    drawings = engraved_twice(line=line, instrument=instrument, layout=layout, prefix=prefix).drawn(draw)
    return DrawnLine(
        label=line.label,
        caption=line.caption,
        tempo=line.tempo_bpm,
        wide=drawings.wide,
        narrow=drawings.narrow,
    )


def _drawn(
    engraving: Engraving,
    part: Part,
    readings: Sequence[NoteReading],
    *,
    css_class: str,
    rows: tuple[bool, bool],
) -> str:
    names, counted = rows
    under = names_overlay(engraving, part, names=names, counted=counted) if any(rows) else ""
    over = (
        note_spots(engraving, part) + reading_aids(engraving, part, readings)
        if part.instrument.pitched
        else ""
    )
    return line_svg(
        engraving,
        overlay=f"{over}{under}",
        label=_("Line {line} for {instrument}: {notes}").format(
            line=part.line.label,
            instrument=Instrument(part.instrument_id).local_name,
            notes=spoken_line(part),
        ),
        css_class=css_class,
        role="group" if over else "img",
        pad_top=READING_AID_ROOM,
        pad_bottom=ROWS_ROOM if under else 6.0,
    )


def spoken_line(part: Part) -> str:
    """The notes in words, for who hears the page: "G, F sharp, rest, A"."""
    if not part.instrument.pitched:
        return _("the rhythm on one drum")
    return ", ".join(note.pitch.spoken if note.pitch else _("rest") for note in part.line.notes)
