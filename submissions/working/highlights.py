"""What a script lights up on an engraved line: the bar that is played now, and the beat in it."""

from fractions import Fraction
from math import ceil

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from exercises.music.engraving import Engraving, SystemPlace

ROOM = 8


def highlights(engraving: Engraving, *, count_unit: Fraction) -> SafeString:
    """Dark until a script turns one on. Bars multiply, so heads stay black; a beat is a thin line."""
    return format_html(
        '<g class="bar-lights" aria-hidden="true">{}</g><g class="beat-lines" aria-hidden="true">{}</g>',
        _bars(engraving),
        _beats(engraving, count_unit=count_unit),
    )


def beat_places(engraving: Engraving, *, count_unit: Fraction) -> tuple[tuple[int, float, int], ...]:
    """(count, x, system) for every count of the line, from 0: at its note, or on the way to the next.

    `count_unit` is the length of a count in quarters.
    """
    bars = {bar.bar: bar for bar in engraving.bars}
    notes = engraving.notes
    places = []
    for note, following in zip(notes, (*notes[1:], None), strict=True):
        same_bar = following is not None and following.bar == note.bar
        until = following.x if following is not None and same_bar else bars[note.bar].right
        ends = note.start + note.beats
        for count in range(ceil(note.start / count_unit), ceil(ends / count_unit)):
            share = float((count * count_unit - note.start) / note.beats)
            places.append((count, note.x + (until - note.x) * share, note.system))
    return tuple(places)


def _bars(engraving: Engraving) -> SafeString:
    systems = engraving.systems
    return format_html_join(
        "",
        '<rect class="bar-light" data-bar="{}" x="{}" y="{}" width="{}" height="{}"/>',
        (
            (
                bar.index,
                round(bar.left, 1),
                _top(systems[bar.system]),
                round(bar.right - bar.left, 1),
                round(_bottom(systems[bar.system]) - _top(systems[bar.system]), 1),
            )
            for bar in engraving.bars
        ),
    )


def _beats(engraving: Engraving, *, count_unit: Fraction) -> SafeString:
    systems = engraving.systems
    return format_html_join(
        "",
        '<line class="beat-line" data-at="{}" x1="{}" x2="{}" y1="{}" y2="{}"/>',
        (
            (count, round(x, 1), round(x, 1), _top(systems[system]), _bottom(systems[system]))
            for count, x, system in beat_places(engraving, count_unit=count_unit)
        ),
    )


def _top(system: SystemPlace) -> float:
    return round(system.ink_top - ROOM, 1)


def _bottom(system: SystemPlace) -> float:
    return round(system.ink_bottom + ROOM, 1)
