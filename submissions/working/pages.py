"""What a student's pages show of a line: drawn for phone and desk, with a light for every bar."""

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from bandroom.people.instruments import Instrument
from exercises.models import ExerciseLine
from exercises.music.counting import count_off
from exercises.music.engraving import line_svg
from exercises.music.playback import hertz
from exercises.parts import Layout, engraved_line, part_of
from submissions.models import Allowance, Assignment
from submissions.working.highlights import highlights


@dataclass(frozen=True, slots=True)
class LinePage:
    """A line as this student reads it."""

    label: str
    caption: str
    allowance: Allowance
    bars: int
    seconds: float
    wide: SafeString
    narrow: SafeString
    timing: dict[str, Any]

    @property
    def tempo(self) -> int:
        """Quarter notes a minute, as asked for."""
        return self.allowance.asked


def line_page(*, line: ExerciseLine, assignment: Assignment, instrument: str) -> LinePage:
    """Engraved for phone and desk. Raises MusicError when the line cannot be engraved."""
    allowance = assignment.allowance_of(line.label, line.tempo_bpm)
    part = part_of(line=line, instrument=instrument)
    name = _("{instrument} part, line {line}").format(
        instrument=Instrument(instrument).local_name, line=line.label
    )
    # All a script counts is in these: quarters, or eighths where eighths are counted.
    unit = part.line.metre.count_unit
    in_bar = int(part.line.metre.quarters / unit)
    drawn = {}
    for layout in (Layout.DESK, Layout.PHONE):
        engraving = engraved_line(
            line=line, instrument=instrument, layout=layout, prefix=f"l{line.label}{layout.value[0]}"
        )
        drawn[layout] = mark_safe(  # noqa: S308 the engine escapes all it draws
            line_svg(
                engraving,
                label=name,
                overlay=highlights(engraving, count_unit=unit),
                pad_top=12,
                pad_bottom=12,
            )
        )
    sounding = next((midi for midi in part.sounding_midi() if midi is not None), None)
    beats = sum((note.beats for note in part.line.notes), start=Fraction(0))
    return LinePage(
        label=line.label,
        caption=line.caption,
        allowance=allowance,
        bars=len(part.line.bars),
        seconds=float(beats) * 60 / allowance.asked,
        wide=drawn[Layout.DESK],
        narrow=drawn[Layout.PHONE],
        timing={
            "label": line.label,
            "tempo": float(allowance.asked / unit),
            "perQuarter": float(1 / unit),
            "beatsInBar": in_bar,
            "bars": len(part.line.bars),
            "beats": float(beats / unit),
            "countOff": [count.label for count in count_off(part.line.metre)],
            "firstNoteHz": None if sounding is None else hertz(sounding),
            "family": part.instrument.family,
        },
    )
