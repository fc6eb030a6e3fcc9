"""Rows under an engraved line: letter names in rhythm and counts, in the drawing's own pixels."""

from collections.abc import Iterator
from fractions import Fraction

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from exercises.music.counting import CountKind, CountMark, counts, names_in_rhythm
from exercises.music.engraving import Engraving, px
from exercises.music.part import Part

#: Rows under a system, in pixels below its ink.
NAMES_BELOW, COUNTS_BELOW = 20, 36
ROWS_ROOM = 46
COUNTS_ALONE_BELOW = 18
#: Free space between a name and the line that holds it.
HELD_FROM, HELD_TO = 15, 17


def names_overlay(engraving: Engraving, part: Part, *, names: bool, counted: bool) -> SafeString:
    """Letter names and counts under the notes, in the drawing's own pixels."""
    rows = []
    if names:
        rows.append(_name_row(engraving, part))
    if counted:
        below = COUNTS_BELOW if names else COUNTS_ALONE_BELOW
        rows.append(_count_row(engraving, part, below))
    drawn = format_html_join("", "{}", ((row,) for row in rows))
    return format_html('<g class="names" aria-hidden="true">{}</g>', drawn)


def _name_row(engraving: Engraving, part: Part) -> SafeString:
    drawn = []
    for said in names_in_rhythm(part):
        place = engraving.notes[said.note]
        y = engraving.systems[place.system].ink_bottom + NAMES_BELOW
        drawn.append(format_html('<text x="{}" y="{}">{}</text>', px(place.x), px(y), said.printed))
        drawn.extend(_held(engraving, place.index, place.start, said.beats, y - 5))
    for place in engraving.notes:
        if place.tie_in and place.name:
            y = engraving.systems[place.system].ink_bottom + NAMES_BELOW - 5
            end = max(place.x + 9, _x_at(engraving, place.index, place.start + place.beats) - HELD_TO)
            drawn.append(
                format_html('<path class="names__held" d="M{} {}H{}"/>', px(place.x - 9), px(y), px(end))
            )
    return format_html_join("", "{}", ((each,) for each in drawn))


def _held(
    engraving: Engraving, index: int, start: Fraction, beats: Fraction, y: float
) -> Iterator[SafeString]:
    """A line from a name to where its sound ends, for a name held longer than a beat."""
    place = engraving.notes[index]
    if beats <= 1:
        return
    bar_end = next(bar.right for bar in engraving.bars if bar.bar == place.bar and bar.system == place.system)
    end = min(_x_at(engraving, index, start + beats), bar_end)
    first, last = place.x + HELD_FROM, end - HELD_TO
    if last - first > 6:
        yield format_html('<path class="names__held" d="M{} {}H{}"/>', px(first), px(y), px(last))


def _count_row(engraving: Engraving, part: Part, below: int) -> SafeString:
    def drawn(mark: CountMark) -> SafeString:
        place = engraving.notes[mark.note]
        y = engraving.systems[place.system].ink_bottom + below
        x = place.x if mark.start == place.start else _x_at(engraving, mark.note, mark.start)
        label = f"({mark.label})" if mark.kind is CountKind.REST else mark.label
        return format_html('<text class="names__count" x="{}" y="{}">{}</text>', px(x), px(y), label)

    return format_html_join("", "{}", ((drawn(mark),) for mark in counts(part.line) if mark.label))


def _x_at(engraving: Engraving, index: int, start: Fraction) -> float:
    """Where a moment inside or at the end of a note stands: between it and what follows on its system."""
    place = engraving.notes[index]
    following = engraving.notes[index + 1] if index + 1 < len(engraving.notes) else None
    if following is not None and following.system == place.system and following.bar == place.bar:
        end = following.x
    else:
        end = next(bar.right for bar in engraving.bars if bar.bar == place.bar and bar.system == place.system)
    share = min((start - place.start) / place.beats, Fraction(1))
    return place.x + (end - place.x) * float(share)
