"""Reading aids on an engraved line: a thread, as pages call it, from what decides about a note to the note.

The cause of a note's sound is a sign of the key signature, a sign in the bar, the note a tie comes from, or
the bar line that ended a sign. A thread rises from it, runs over the staff and comes down to the note. All
are drawn with the line, unseen until a script shows the one of the note that was chosen.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from exercises.music.engraving import Engraving, NotePlace, px
from exercises.music.keys import key_letters
from exercises.music.part import Part
from exercises.music.reading import NoteReading, Reason

#: How far over the ink of its system a thread runs, and the room that this takes above the first system.
RISE = 9.0
READING_AID_ROOM = 14.0
#: Between the end of a thread and the head of its note; half the length and width of the point at its end.
ABOVE_HEAD, POINT = 7.0, 4.0
CORNER = 5.0
#: A tie from the system before comes in this far ahead of its note.
TIE_LEAD = 22.0

_FROM_THE_KEY = frozenset({Reason.KEY, Reason.RESET_KEY})
_FROM_THE_BAR_LINE = frozenset({Reason.RESET_KEY, Reason.RESET_PLAIN})
_FROM_A_SIGN = frozenset({Reason.CARRIED, Reason.SIGN_CANCELLED, Reason.OTHER_OCTAVE})


@dataclass(frozen=True, slots=True)
class AidStart:
    """Where a reading aid begins. `reaches` is False for a sign that does not touch this note."""

    x: float
    y: float
    reaches: bool = True


def aid_starts(engraving: Engraving, part: Part, reading: NoteReading) -> tuple[AidStart, ...]:
    """Everything on the page that this note's sound comes from; nothing for a plain note."""
    return tuple(_aid_starts(engraving, part, reading))


def _aid_starts(engraving: Engraving, part: Part, reading: NoteReading) -> Iterator[AidStart]:
    note = engraving.notes[reading.ref.index]
    system = engraving.systems[note.system]
    pitch = part.line.notes[note.index].pitch
    if reading.reason in _FROM_THE_KEY and pitch is not None:
        letters = key_letters(part.line.fifths)
        yield AidStart(*system.key[letters.index(pitch.letter)])
    if reading.reason in _FROM_THE_BAR_LINE:
        bar = next(bar for bar in engraving.bars if bar.bar == note.bar and bar.system == note.system)
        yield AidStart(bar.left, system.top)
    if reading.reason is Reason.SIGN and note.sign is not None:
        yield AidStart(*note.sign)
    if reading.cause is None:
        return
    cause = engraving.notes[reading.cause.index]
    if reading.reason in _FROM_A_SIGN and cause.sign is not None:
        yield AidStart(*cause.sign, reaches=reading.reason is not Reason.OTHER_OCTAVE)
    if reading.reason is Reason.TIE:
        same = cause.system == note.system
        yield (
            AidStart(cause.x, cause.y - ABOVE_HEAD)
            if same
            else AidStart(note.x - TIE_LEAD, note.y - ABOVE_HEAD)
        )


def reading_aids(engraving: Engraving, part: Part, readings: Sequence[NoteReading]) -> SafeString:
    """The reading aids of all notes that have one, each in a group of its own, unseen."""
    drawn = [
        (reading.ref.index, _aid(engraving, engraving.notes[reading.ref.index], found))
        for reading in readings
        if (found := aid_starts(engraving, part, reading))
    ]
    return format_html(
        '<g class="threads" aria-hidden="true">{}</g>',
        format_html_join("", '<g data-thread="{}">{}</g>', drawn),
    )


def _aid(engraving: Engraving, note: NotePlace, found: Sequence[AidStart]) -> SafeString:
    run = engraving.systems[note.system].ink_top - RISE
    end = note.y - ABOVE_HEAD
    return format_html_join("", "{}", ((_line(cause, note.x, run, end),) for cause in found))


def _line(cause: AidStart, x: float, run: float, end: float) -> SafeString:
    """Up from the cause, along, and down to the note, with a point on it; a bar where it does not reach."""
    turn = min(CORNER, abs(x - cause.x) / 2)
    side = turn if x > cause.x else -turn
    path = (
        f"M{px(cause.x)} {px(cause.y)}V{px(run + turn)}"
        f"Q{px(cause.x)} {px(run)} {px(cause.x + side)} {px(run)}"
        f"H{px(x - side)}Q{px(x)} {px(run)} {px(x)} {px(run + turn)}"
    )
    begins = format_html('<circle class="thread__end" cx="{}" cy="{}" r="2.6"/>', px(cause.x), px(cause.y))
    if cause.reaches:
        left, right, over = px(x - POINT), px(x + POINT), px(end - POINT)
        point = f"{left},{over} {right},{over} {px(x)},{px(end + POINT)}"
        line = f"{path}V{px(end - POINT)}"
        return format_html(
            '<path class="thread thread--now" d="{}"/>{}<polygon class="thread__end" points="{}"/>',
            line,
            begins,
            point,
        )
    stop = end - 2 * POINT
    line = f"{path}V{px(stop)}M{px(x - 2 * POINT)} {px(stop)}H{px(x + 2 * POINT)}"
    return format_html('<path class="thread thread--not" d="{}"/>{}', line, begins)
