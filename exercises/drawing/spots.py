"""The stretch of an engraved line that belongs to each note, to be lit, tapped or chosen."""

from dataclasses import dataclass

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from exercises.music.engraving import Engraving, px
from exercises.music.part import Part
from exercises.music.score import count_text

#: A note's own stretch ends half way to its neighbours, and never further than this.
WIDEST = 30.0
#: Less before the first note of a system: clef, key and time signature stand there.
BEFORE_FIRST = 15.0
#: Over and under the ink of the system.
ABOVE, BELOW = 4.0, 5.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """Left and right edge of what belongs to one note, in the drawing's pixels."""

    left: float
    right: float


def stretches(engraving: Engraving) -> tuple[Stretch, ...]:
    """One for each note and rest; two never overlap."""
    notes = engraving.notes
    found = []
    for note, before, following in zip(notes, (None, *notes[:-1]), (*notes[1:], None), strict=True):
        left, right = note.x - BEFORE_FIRST, note.x + WIDEST
        if before is not None and before.system == note.system:
            left = max(note.x - WIDEST, (before.x + note.x) / 2)
        if following is not None and following.system == note.system:
            right = min(right, (note.x + following.x) / 2)
        found.append(Stretch(left, right))
    return tuple(found)


def note_spots(engraving: Engraving, part: Part) -> SafeString:
    """A spot over each note, called "Bar 2, beat 3: F sharp". A script makes buttons of them."""
    drawn = []
    for note, stretch in zip(engraving.notes, stretches(engraving), strict=True):
        if note.is_rest:
            continue
        system = engraving.systems[note.system]
        drawn.append(
            (
                note.index,
                _("Bar {bar}, {count}: {note}").format(
                    bar=note.bar, count=count_text(note.beat, part.line.metre), note=note.words
                ),
                px(stretch.left),
                px(system.ink_top - ABOVE),
                px(stretch.right - stretch.left),
                px(system.ink_bottom - system.ink_top + ABOVE + BELOW),
            )
        )
    return format_html(
        '<g class="spots">{}</g>',
        format_html_join(
            "",
            '<g class="spot" data-note="{}" role="button" tabindex="-1" aria-pressed="false" aria-label="{}">'
            '<rect x="{}" y="{}" width="{}" height="{}" rx="3"/></g>',
            drawn,
        ),
    )
