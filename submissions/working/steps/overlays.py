"""What a step draws on an engraved line: targets to tap, a highlight behind the note that is played now."""

from collections.abc import Iterator, Mapping
from fractions import Fraction

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from exercises.drawing.spots import stretches
from exercises.music.engraving import Engraving, NotePlace, px
from exercises.music.score import Metre, count_text

#: Room above the ink that belongs to a note.
ABOVE = 8
#: Under the ink: with names and counts in it, or without.
BELOW_ROWS, BELOW_INK = 40, 10
TARGET_BELOW, TARGET_WIDTH, TARGET_HEIGHT = 12, 24, 22


def note_highlights(engraving: Engraving, *, rows: bool) -> SafeString:
    """Dark until a script lights one, with `rows` over names too. They multiply: heads stay black."""
    below = BELOW_ROWS if rows else BELOW_INK
    spans = [
        (
            note.index,
            px(stretch.left),
            px(engraving.systems[note.system].ink_top - ABOVE),
            px(stretch.right - stretch.left),
            px(
                engraving.systems[note.system].ink_bottom
                - engraving.systems[note.system].ink_top
                + ABOVE
                + below
            ),
        )
        for note, stretch in zip(engraving.notes, stretches(engraving), strict=True)
    ]
    drawn = format_html_join(
        "",
        '<rect class="note-light" data-light="{}" x="{}" y="{}" width="{}" height="{}" rx="3"/>',
        spans,
    )
    return format_html('<g class="note-lights" aria-hidden="true">{}</g>', drawn)


def tap_targets(engraving: Engraving, *, metre: Metre, pressed: Mapping[int, str]) -> SafeString:
    """A rail under every system with a target for each note; `pressed` holds the sign on a found one.

    A script makes buttons of them; without one the page has a form of tick boxes instead.
    """
    return format_html(
        '<g class="pegs">{}</g>',
        format_html_join("", "{}", ((each,) for each in _tap_targets(engraving, metre, pressed))),
    )


def _tap_targets(engraving: Engraving, metre: Metre, pressed: Mapping[int, str]) -> Iterator[SafeString]:
    for note, stretch in zip(engraving.notes, stretches(engraving), strict=True):
        if note.is_rest:
            continue
        system = engraving.systems[note.system]
        slot = system.ink_bottom + TARGET_BELOW
        width = min(TARGET_WIDTH, stretch.right - stretch.left - 3)
        yield format_html(
            '<g class="peg" data-note="{}" role="button" tabindex="-1" aria-pressed="{}" aria-label="{}">'
            '<rect class="peg__hit" x="{}" y="{}" width="{}" height="{}" rx="3"/>'
            '<rect class="peg__slot" x="{}" y="{}" width="{}" height="{}" rx="2"/>'
            '<text x="{}" y="{}">{}</text></g>',
            note.index,
            "true" if note.index in pressed else "false",
            place_label(note, metre),
            px(stretch.left),
            px(system.ink_top - ABOVE),
            px(stretch.right - stretch.left),
            px(slot + TARGET_HEIGHT + 4 - system.ink_top + ABOVE),
            px(note.x - width / 2),
            px(slot),
            px(width),
            TARGET_HEIGHT,
            px(note.x),
            px(slot + TARGET_HEIGHT - 5),
            pressed.get(note.index, ""),
        )


def place_label(note: NotePlace, metre: Metre) -> str:
    """ "Bar 2, beat 3, F on the page": the letter that is printed, without what alters it."""
    words = _("Bar {bar}, {count}, {letter} on the page")
    return words.format(bar=note.bar, count=count_text(Fraction(note.beat), metre), letter=note.name[:1])
