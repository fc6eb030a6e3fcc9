"""Why was a note likely misread? From what sounded, by the reasons for which the note is read as it is.

A cause is a likelihood, not a finding: the pitch that sounded is the one that a student plays who reads the
page in that way. The reading engine gives for each note the sign in force and the note it comes from; here
the same rules are broken one at a time. Where none of them gives the pitch, the nearest plain slip is named.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from exercises.music.keys import key_alters
from exercises.music.pitch import LETTERS, Pitch
from exercises.music.reading import Reason
from exercises.music.score import Line, NoteRef
from submissions.section_misses.misses import Root, Struck


class Cause(StrEnum):
    KEY_FORGOTTEN = "key_forgotten"
    SIGN_OVERLOOKED = "sign_overlooked"
    NATURAL_OVERLOOKED = "natural_overlooked"
    NOT_CARRIED = "not_carried"
    AFTER_TIE = "after_tie"
    OVER_BARLINE = "over_barline"
    OTHER_OCTAVE = "other_octave"
    NEIGHBOUR = "neighbour"
    ADDED_SIGN = "added_sign"
    OCTAVE = "octave"
    STAYED = "stayed"
    OTHER_NOTE = "other_note"
    NOT_HEARD = "not_heard"
    MIXED = "mixed"


#: Ways of reading the page; the others are slips of finger, breath or ear.
MISREADINGS = frozenset(
    {
        Cause.KEY_FORGOTTEN, Cause.SIGN_OVERLOOKED, Cause.NATURAL_OVERLOOKED, Cause.NOT_CARRIED,
        Cause.AFTER_TIE, Cause.OVER_BARLINE, Cause.OTHER_OCTAVE, Cause.NEIGHBOUR, Cause.ADDED_SIGN,
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Likely:
    """The likeliest cause at one note.

    read_as  what was played, spelled as this cause has it; None where it is no one pitch
    source   the note from which the misread sign comes, None for the key signature or no sign at all
    """

    cause: Cause
    read_as: Pitch | None = None
    source: NoteRef | None = None
    source_pitch: Pitch | None = None


def likely_at(root: Root, *, line: Line, notes: Sequence[Struck]) -> Likely:
    """The cause that most players at this note share."""
    if root.played is not None and root.same >= root.not_heard:
        return cause_of(root.note, root.played, name=root.played_name, line=line, notes=notes)
    if root.not_heard > root.different:
        return Likely(Cause.NOT_HEARD)
    return Likely(Cause.MIXED)


def cause_of(note: Struck, midi: int, *, name: str | None, line: Line, notes: Sequence[Struck]) -> Likely:
    """`midi` is the written pitch of what sounded, `name` the listener's own for it if it gave one."""
    written = note.pitch
    if written is None:
        return Likely(Cause.OTHER_NOTE)
    same_letter = _with_alter(written, midi)
    if same_letter is not None:
        misread = _misread(note, written, same_letter.alter, line=line)
        if misread is not None:
            cause, source = misread
            pitch = line.notes[source.index].pitch if source else None
            return Likely(cause, same_letter, source, pitch)
    if (midi - written.midi) % 12 == 0:
        return Likely(Cause.OCTAVE, written.octaves_up((midi - written.midi) // 12))
    key = key_alters(line.fifths)
    for step in (-1, 1):
        height = written.height + step
        letter = LETTERS[height % 7]
        beside = Pitch(letter, key.get(letter, 0), height // 7)
        if beside.midi == midi:
            return Likely(Cause.NEIGHBOUR, beside)
    if same_letter is not None:
        return Likely(Cause.ADDED_SIGN, same_letter)
    heard = Pitch.parse(name) if name else _in_key(midi, line.fifths)
    before = notes[note.number - 1] if note.number else None
    if before is not None and before.pitch is not None and before.pitch.midi == midi:
        return Likely(Cause.STAYED, before.pitch, before.ref, before.pitch)
    return Likely(Cause.OTHER_NOTE, heard)


def _misread(note: Struck, written: Pitch, alter: int, *, line: Line) -> tuple[Cause, NoteRef | None] | None:
    """The broken rule by which this note's letter gets `alter`, with the note that its sign comes from."""
    reading, in_key = note.reading, key_alters(line.fifths).get(written.letter, 0)
    reason, source = reading.reason, reading.cause
    if reason is Reason.KEY and alter == 0:
        return Cause.KEY_FORGOTTEN, None
    if reason is Reason.SIGN:
        before = _sign_before(note.ref, written, line)
        if alter == (before[1] if before else in_key):
            natural = written.alter == 0
            return (Cause.NATURAL_OVERLOOKED if natural else Cause.SIGN_OVERLOOKED), (
                before[0] if before else None
            )
        return None
    if source is None:
        return None
    sounded = line.notes[source.index].pitch
    if reason in {Reason.CARRIED, Reason.SIGN_CANCELLED}:
        return _not_carried(note.ref, written, alter, source=source, line=line)
    if sounded is None or alter != sounded.alter:
        return (Cause.KEY_FORGOTTEN, None) if reason is Reason.RESET_KEY and alter == 0 else None
    if reason is Reason.OTHER_OCTAVE:
        return Cause.OTHER_OCTAVE, source
    if reason in {Reason.RESET_PLAIN, Reason.RESET_KEY}:
        held = _held_into_bar(note.ref, written, line)
        return (Cause.AFTER_TIE if held else Cause.OVER_BARLINE), source
    return None


def _not_carried(
    ref: NoteRef, written: Pitch, alter: int, *, source: NoteRef, line: Line
) -> tuple[Cause, NoteRef | None] | None:
    """A sign of this bar taken for one note only; or, after a reminder, the bar before still in the ear."""
    in_key = key_alters(line.fifths).get(written.letter, 0)
    before = _sign_before(source, written, line)
    if alter == (before[1] if before else in_key):
        return Cause.NOT_CARRIED, source
    earlier = _last_in_bar(source.bar - 1, written, line)
    if earlier is not None and earlier[1] == alter:
        return Cause.OVER_BARLINE, earlier[0]
    return None


def _sign_before(ref: NoteRef, pitch: Pitch, line: Line) -> tuple[NoteRef, int] | None:
    """The last note on this line or space earlier in the bar. A tie brings no sign along."""
    return _last(ref.bar, pitch, line, before=ref.index, octave=pitch.octave)


def _last_in_bar(bar: int, pitch: Pitch, line: Line) -> tuple[NoteRef, int] | None:
    return _last(bar, pitch, line, before=len(line.notes), octave=None)


def _last(
    bar: int, pitch: Pitch, line: Line, *, before: int, octave: int | None
) -> tuple[NoteRef, int] | None:
    found = None
    for other, ref, tied_in in zip(line.notes, line.refs(), line.tied_in(), strict=True):
        if ref.bar != bar or ref.index >= before or other.pitch is None or tied_in:
            continue
        if other.pitch.letter == pitch.letter and octave in {None, other.pitch.octave}:
            found = ref, other.pitch.alter
    return found


def _held_into_bar(ref: NoteRef, pitch: Pitch, line: Line) -> bool:
    """Whether an altered note of this letter was tied over the bar line into this bar."""
    return any(
        tied_in and other_ref.bar == ref.bar and other_ref.index < ref.index
        and other.pitch is not None and other.pitch.letter == pitch.letter
        for other, other_ref, tied_in in zip(line.notes, line.refs(), line.tied_in(), strict=True)
    )  # fmt: skip


def _with_alter(written: Pitch, midi: int) -> Pitch | None:
    """The same letter with the sign that gives `midi`; None beyond a single sharp or flat."""
    alter = midi - Pitch(written.letter, 0, written.octave).midi
    return Pitch(written.letter, alter, written.octave) if -1 <= alter <= 1 else None


def _in_key(midi: int, fifths: int) -> Pitch:
    """A spelling of `midi`: in the key, else a natural, else by the key's own kind of sign."""
    key = key_alters(fifths)
    kind = -1 if fifths < 0 else 1
    options = [
        Pitch(letter, alter, octave)
        for octave in (midi // 12 - 2, midi // 12 - 1, midi // 12)
        for letter in LETTERS
        for alter in {key.get(letter, 0), 0, kind}
    ]
    return min(
        (pitch for pitch in options if pitch.midi == midi),
        key=lambda pitch: (pitch.alter != key.get(pitch.letter, 0), pitch.alter != 0),
    )
