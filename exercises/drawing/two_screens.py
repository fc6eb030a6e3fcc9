"""One line for a wide and a narrow screen: both drawings stand on the page, and one of them is shown."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from django.utils.safestring import SafeString, mark_safe

from exercises.models import ExerciseLine
from exercises.music.engraving import Engraving
from exercises.parts import Layout, engraved_line

#: The layout of a wide screen, and the same on a phone.
NARROW_LAYOUT: Mapping[Layout, Layout] = {
    Layout.DESK: Layout.PHONE,
    Layout.READING: Layout.READING_PHONE,
    Layout.MARKING: Layout.MARKING_PHONE,
}


class Screen(StrEnum):
    WIDE = "wide"
    NARROW = "narrow"

    @property
    def css_class(self) -> str:
        return f"only-{self.value}"


type Draw = Callable[[Engraving, Screen], str]
"""Markup of one drawing; it escapes what it writes."""


@dataclass(frozen=True, slots=True)
class Drawings:
    wide: SafeString
    narrow: SafeString


@dataclass(frozen=True, slots=True)
class Engravings:
    wide: Engraving
    narrow: Engraving

    def drawn(self, draw: Draw) -> Drawings:
        # the engine and every overlay escape the words that they draw
        return Drawings(
            wide=mark_safe(draw(self.wide, Screen.WIDE)),  # noqa: S308
            narrow=mark_safe(draw(self.narrow, Screen.NARROW)),  # noqa: S308
        )


def engraved_twice(*, line: ExerciseLine, instrument: str, layout: Layout, prefix: str) -> Engravings:
    """`layout` is the wide one; the ids of the drawings begin with `prefix` and "w" or "n".

    Raises MusicError where the part cannot be drawn.
    """
    return Engravings(
        wide=engraved_line(line=line, instrument=instrument, layout=layout, prefix=f"{prefix}w"),
        narrow=engraved_line(
            line=line, instrument=instrument, layout=NARROW_LAYOUT[layout], prefix=f"{prefix}n"
        ),
    )
