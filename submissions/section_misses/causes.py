"""Why did players of a section likely misread a note? By the listener's own reasons, on the part's notes."""

from collections.abc import Sequence
from dataclasses import dataclass

from exercises.music.pitch import Pitch
from exercises.music.score import Line, NoteRef
from submissions.listening.evidence import Cause
from submissions.listening.note_causes import cause_at
from submissions.listening.score import Score, ScoreNote, WrittenNote
from submissions.section_misses.misses import NoteMisses, Struck

#: Ways of reading the page; the others are slips of finger, breath or ear.
MISREADINGS = frozenset(
    {
        Cause.KEY_FORGOTTEN, Cause.SIGN_OVERLOOKED, Cause.NATURAL_MISSED, Cause.SIGN_NOT_CARRIED,
        Cause.SIGN_AFTER_TIE, Cause.SIGN_CARRIED_OVER_BARLINE, Cause.SIGN_OF_OTHER_OCTAVE,
        Cause.NEIGHBOUR_NOTE, Cause.ADDED_SIGN,
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


def printed_score(line: Line, notes: Sequence[Struck]) -> Score:
    """The part as the engine of misreadings reads it; empty for a drum, which has nothing to misread."""
    return Score(
        instrument="",
        notes=tuple(_printed(note, note.pitch, line) for note in notes if note.pitch is not None),
        beats_per_bar=float(line.metre.quarters),
        fifths=line.fifths,
    )


def likely_at(misses: NoteMisses, *, line: Line, score: Score, notes: Sequence[Struck]) -> Likely:
    """The cause that most players at this note share."""
    if misses.played is not None and misses.same >= misses.not_heard:
        return cause_of(
            misses.note, misses.played, name=misses.played_name, line=line, score=score, notes=notes
        )
    if misses.not_heard > misses.different:
        return Likely(Cause.NOT_HEARD)
    return Likely(Cause.MIXED)


def cause_of(
    note: Struck, midi: int, *, name: str | None, line: Line, score: Score, notes: Sequence[Struck]
) -> Likely:
    """`midi` is the written pitch of what sounded, `name` the listener's own for it if it gave one."""
    if note.pitch is None:
        return Likely(Cause.OTHER_NOTE)
    found = cause_at(score, note.number, midi, name=name)
    read_as = found.read_as
    source = None if found.source is None else notes[found.source]
    ref = source.ref if source else None
    if source and found.cause is Cause.SIGN_CARRIED_OVER_BARLINE:
        ref = line.refs()[source.last]  # of a tied note the end: that is in the bar before this one
    return Likely(
        cause=found.cause,
        read_as=Pitch(read_as.letter, read_as.alter, read_as.octave) if read_as else None,
        source=ref,
        source_pitch=source.pitch if source else None,
    )


def _printed(note: Struck, pitch: Pitch, line: Line) -> ScoreNote:
    held = line.notes[note.first : note.last + 1]
    return ScoreNote(
        midi=pitch.midi,
        start_beat=float(note.ref.start),
        beats=float(sum(each.beats for each in held)),
        written=WrittenNote(
            letter=pitch.letter,
            alter=pitch.alter,
            octave=pitch.octave,
            bar=note.ref.bar,
            beat=float(note.ref.beat),
            reason=str(note.reading.reason),
        ),
    )
