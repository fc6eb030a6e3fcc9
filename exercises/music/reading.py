"""Why does each note sound as it does? The signs on the page, with reasons and causes.

The rules of Western notation, in this order: the key signature alters its letters in every octave; a printed
sign holds for its own line or space up to the bar line and overrides the key; the bar line ends it; a tie
carries the altered pitch over the bar line for the tied note alone. Each required sign stands once in a bar.

Courtesy signs (common practice, no source; printed in parentheses, can be switched off):
C1  the first note of a letter that is back to the key after it was altered in the bar before, in any octave,
    unless it went back inside that bar already;
C2  the same letter in another octave that the sign of this bar does not touch;
C3  after a tied altered note, the one that follows unaltered (a case of C1: the tie carries the alteration
    in).
"""

from dataclasses import dataclass, field, replace
from enum import StrEnum

from exercises.music.keys import key_alters
from exercises.music.part import Part
from exercises.music.pitch import Pitch
from exercises.music.score import Line, Note, NoteRef, count_text, on_count_text
from exercises.music.voice import gettext as _
from exercises.music.voice import gettext_noop


class Accidental(StrEnum):
    """Values as in MusicXML."""

    DOUBLE_FLAT = "flat-flat"
    FLAT = "flat"
    NATURAL = "natural"
    SHARP = "sharp"
    DOUBLE_SHARP = "double-sharp"


class Reason(StrEnum):
    PLAIN = "plain"
    KEY = "key"
    SIGN = "sign"
    CARRIED = "carried"
    SIGN_CANCELLED = "sign-cancelled"
    TIE = "tie"
    RESET_PLAIN = "reset-plain"
    RESET_KEY = "reset-key"
    OTHER_OCTAVE = "other-octave"
    REST = "rest"
    UNPITCHED = "unpitched"


ACCIDENTAL_OF_ALTER = {
    -2: Accidental.DOUBLE_FLAT,
    -1: Accidental.FLAT,
    0: Accidental.NATURAL,
    1: Accidental.SHARP,
    2: Accidental.DOUBLE_SHARP,
}
ACCIDENTAL_WORDS = {
    Accidental.DOUBLE_FLAT: gettext_noop("double flat"),
    Accidental.FLAT: gettext_noop("flat"),
    Accidental.NATURAL: gettext_noop("natural"),
    Accidental.SHARP: gettext_noop("sharp"),
    Accidental.DOUBLE_SHARP: gettext_noop("double sharp"),
}
REST = gettext_noop("Rest: count it, do not play.")
ACCIDENTAL_PRINTED = {
    Accidental.DOUBLE_FLAT: "𝄫",
    Accidental.FLAT: "♭",
    Accidental.NATURAL: "♮",
    Accidental.SHARP: "♯",
    Accidental.DOUBLE_SHARP: "𝄪",
}


@dataclass(frozen=True, slots=True)
class NoteReading:
    """How one note is read.

    accidental  the sign printed in front of it, if any
    courtesy    the sign is a reminder in parentheses
    cause       the note that set the state, None when it is the note itself or the key signature
    words       one or two short sentences for a beginner
    altered     it does not sound as its plain letter, or it is plain against the key signature: what a
                student looks for before playing
    """

    ref: NoteRef
    accidental: Accidental | None
    courtesy: bool
    reason: Reason
    cause: NoteRef | None
    words: str
    altered: bool = False


@dataclass(slots=True)
class _Mark:
    """A sign in force, and the note it stands at."""

    alter: int
    ref: NoteRef


@dataclass(slots=True)
class _BarState:
    """What holds inside one bar: signs by staff place, alterations by letter owed from the bar before."""

    signs: dict[tuple[str, int], _Mark] = field(default_factory=dict)
    altered: dict[str, _Mark] = field(default_factory=dict)
    owed: dict[str, _Mark] = field(default_factory=dict)


def read(line: Line, *, courtesy: bool = True) -> tuple[NoteReading, ...]:
    """Signs and reasons for every note of a written line, rests included, in the order of `line.notes`."""
    key = key_alters(line.fifths)
    readings: list[NoteReading] = []
    state = _BarState()
    bar = None
    held: tuple[Pitch, NoteRef] | None = None
    for note, ref in zip(line.notes, line.refs(), strict=True):
        if ref.bar != bar:
            state = _BarState(owed=dict(state.altered) if courtesy else {})
            bar = ref.bar
        if note.pitch is None:
            readings.append(NoteReading(ref, None, False, Reason.REST, None, _(REST)))
            held = None
            continue
        in_key = key.get(note.pitch.letter, 0)
        if held and held[0] == note.pitch:
            reading = _tied(note.pitch, ref, held[1], line)
        else:
            reading = _read_note(note.pitch, ref, in_key, state, line, courtesy)
        readings.append(replace(reading, altered=bool(note.pitch.alter or in_key)))
        _remember_alteration(note.pitch, ref, in_key, state)
        held = (note.pitch, ref) if note.tied else None
    return tuple(readings)


def read_part(part: Part, *, courtesy: bool = True) -> tuple[NoteReading, ...]:
    """Signs and reasons of a part; a drum part has only its rhythm."""
    return read(part.line, courtesy=courtesy) if part.instrument.pitched else _read_unpitched(part.line)


def _read_unpitched(line: Line) -> tuple[NoteReading, ...]:
    """For a drum part: nothing to read but the rhythm."""

    def words(note: Note) -> tuple[Reason, str]:
        if note.is_rest:
            return Reason.REST, _(REST)
        return Reason.UNPITCHED, _("One stroke: read the rhythm.")

    return tuple(
        NoteReading(ref, None, False, words(note)[0], None, words(note)[1])
        for note, ref in zip(line.notes, line.refs(), strict=True)
    )


def _read_note(
    pitch: Pitch, ref: NoteRef, in_key: int, state: _BarState, line: Line, courtesy: bool
) -> NoteReading:
    place = (pitch.letter, pitch.octave)
    mark = state.signs.get(place)
    owed = state.owed.pop(pitch.letter, None)
    in_force = mark.alter if mark else in_key
    if pitch.alter != in_force:
        state.signs[place] = _Mark(pitch.alter, ref)
        return _signed(pitch, ref, mark, in_key, line)
    if mark:
        return _carried(pitch, ref, mark, in_key, line)
    if owed and owed.alter != pitch.alter:
        state.signs[place] = _Mark(pitch.alter, ref)
        return _back_after_bar_line(pitch, ref, owed, in_key)
    other = _other_octave(pitch, state) if courtesy else None
    if other:
        state.signs[place] = _Mark(pitch.alter, ref)
        return _other_octave_reading(pitch, ref, other, in_key, line)
    if in_key:
        words = _("{letter} is {kind} because of the key signature.").format(
            letter=pitch.letter, kind=_kind(pitch.alter)
        )
        return NoteReading(ref, None, False, Reason.KEY, None, words)
    words = _("Plain {letter}: no sign, and not in the key signature.").format(letter=pitch.letter)
    return NoteReading(ref, None, False, Reason.PLAIN, None, words)


def _remember_alteration(pitch: Pitch, ref: NoteRef, in_key: int, state: _BarState) -> None:
    """A letter that ends the bar altered is owed a reminder in the next; one that went back is not."""
    if pitch.alter != in_key:
        state.altered[pitch.letter] = _Mark(pitch.alter, ref)
    else:
        state.altered.pop(pitch.letter, None)


def _other_octave(pitch: Pitch, state: _BarState) -> _Mark | None:
    for (letter, octave), mark in state.signs.items():
        if letter == pitch.letter and octave != pitch.octave and mark.alter != pitch.alter:
            return mark
    return None


def _kind(alter: int) -> str:
    return _(ACCIDENTAL_WORDS[ACCIDENTAL_OF_ALTER[alter]])


def _on(ref: NoteRef, here: NoteRef, line: Line) -> str:
    """Where a cause stands, as seen from `here`: "on beat 2", "in bar 1 on beat 2"."""
    place = on_count_text(ref.beat, line.metre)
    return place if ref.bar == here.bar else _("in bar {bar} {place}").format(bar=ref.bar, place=place)


def _signed(pitch: Pitch, ref: NoteRef, mark: _Mark | None, in_key: int, line: Line) -> NoteReading:
    words = _("The {sign} in front of it makes it {note}.").format(
        sign=_kind(pitch.alter), note=pitch.spoken_in_full
    )
    if mark:
        ended = _("It ends the {sign} {place}.")
        words += " " + ended.format(sign=_kind(mark.alter), place=_on(mark.ref, ref, line))
    elif in_key:
        overruled = _("It overrules the {sign} in the key signature until the bar line.")
        words += " " + overruled.format(sign=_kind(in_key))
    return NoteReading(ref, ACCIDENTAL_OF_ALTER[pitch.alter], False, Reason.SIGN, None, words)


def _carried(pitch: Pitch, ref: NoteRef, mark: _Mark, in_key: int, line: Line) -> NoteReading:
    reason = Reason.CARRIED if pitch.alter != in_key else Reason.SIGN_CANCELLED
    words = _("Still {note}: the {sign} {place} lasts to the bar line.").format(
        note=pitch.spoken_in_full, sign=_kind(mark.alter), place=_on(mark.ref, ref, line)
    )
    return NoteReading(ref, None, False, reason, mark.ref, words)


def _tied(pitch: Pitch, ref: NoteRef, start: NoteRef, line: Line) -> NoteReading:
    words = _("Held over from {place}: the same {note}, no new start.").format(
        place=_held_from(start, ref, line), note=pitch.spoken
    )
    return NoteReading(ref, None, False, Reason.TIE, start, words)


def _held_from(start: NoteRef, ref: NoteRef, line: Line) -> str:
    count = count_text(start.beat, line.metre)
    return count if start.bar == ref.bar else _("bar {bar}, {count}").format(bar=start.bar, count=count)


def _back_after_bar_line(pitch: Pitch, ref: NoteRef, owed: _Mark, in_key: int) -> NoteReading:
    if in_key:
        reason = Reason.RESET_KEY
        words = _(
            "The bar line ended the {sign} of bar {bar}: {letter} is {kind} again, as in the key signature."
        )
    else:
        reason = Reason.RESET_PLAIN
        words = _("The bar line ended the {sign} of bar {bar}: {letter} is plain again.")
    words = words.format(
        sign=_kind(owed.alter), bar=owed.ref.bar, letter=pitch.letter, kind=_kind(pitch.alter)
    )
    return NoteReading(ref, ACCIDENTAL_OF_ALTER[pitch.alter], True, reason, owed.ref, words)


def _other_octave_reading(pitch: Pitch, ref: NoteRef, other: _Mark, in_key: int, line: Line) -> NoteReading:
    if in_key:
        words = _(
            "The {sign} {place} was on the other {letter}: this one stays {kind}, as in the key signature."
        )
    else:
        words = _("The {sign} {place} was on the other {letter}: this one stays plain.")
    words = words.format(
        sign=_kind(other.alter),
        place=_on(other.ref, ref, line),
        letter=pitch.letter,
        kind=_kind(pitch.alter),
    )
    return NoteReading(ref, ACCIDENTAL_OF_ALTER[pitch.alter], True, Reason.OTHER_OCTAVE, other.ref, words)
