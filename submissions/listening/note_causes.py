"""Why was one note of the part played as another?

Definition: the pitch that sounded is the one that a student plays who breaks one rule for signs at this note;
where none of the rules gives it, the nearest plain slip is named: another octave, the next note in the key,
the same letter with a sign of nobody's, the note before.

Assumptions: a cause is a likelihood, not a finding; of two that give the same pitch the likelier is named.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

from submissions.listening.accidental_rules import ways_to_misread
from submissions.listening.evidence import Cause
from submissions.listening.score import LETTERS, Score, ScoreNote, WrittenNote
from submissions.listening.spelling import key_alters, parse_name, spell

OCTAVE = 12
MOST_ALTERED = 1
"""Nobody reads a double sharp or flat into a beginner's line."""


@dataclass(frozen=True, slots=True)
class NoteCause:
    """The likeliest cause at one note.

    read_as  what was played, spelled as this cause has it; None where that is not known
    source   the note from which the misread sign, or the pitch, comes; None for the key or no sign at all
    """

    cause: Cause
    read_as: WrittenNote | None = None
    source: int | None = None


def cause_at(score: Score, note: int, played: int, *, name: str | None = None) -> NoteCause:
    """`played` is the written pitch of what sounded, `name` how the listener spelled it, if it did.

    The score has a written note for every note, and its key.
    """
    written, fifths = _written(score.notes), score.fifths or 0
    own = written[note]
    same_letter = _with_alter(own, played)
    if same_letter is not None:
        held_to = [_ends_in_bar(each, score.beats_per_bar) for each in score.notes]
        for way in ways_to_misread(written, fifths, at=note, held_to=held_to):
            if way.alter == same_letter.alter:
                return NoteCause(way.cause, same_letter, way.source)
    if (played - own.midi) % OCTAVE == 0:
        up = (played - own.midi) // OCTAVE
        return NoteCause(Cause.OTHER_OCTAVE, replace(own, octave=own.octave + up))
    for step in (-1, 1):
        beside = _beside(own, step, fifths)
        if beside.midi == played:
            return NoteCause(Cause.NEIGHBOUR_NOTE, beside)
    if same_letter is not None:
        return NoteCause(Cause.ADDED_SIGN, same_letter)
    if note and written[note - 1].midi == played:
        return NoteCause(Cause.STAYED, written[note - 1], note - 1)
    letter, alter, octave = parse_name(name) if name else spell(played, fifths)
    return NoteCause(Cause.OTHER_NOTE, replace(own, letter=LETTERS[letter], alter=alter, octave=octave))


def _written(notes: Sequence[ScoreNote]) -> list[WrittenNote]:
    found = [note.written for note in notes if note.written is not None]
    if len(found) < len(notes):
        raise ValueError("A cause needs the part as it is printed.")
    return found


def _with_alter(written: WrittenNote, played: int) -> WrittenNote | None:
    """The same letter with the sign that gives `played`; None beyond a single sharp or flat."""
    alter = written.alter + played - written.midi
    return replace(written, alter=alter) if abs(alter) <= MOST_ALTERED else None


def _beside(written: WrittenNote, step: int, fifths: int) -> WrittenNote:
    """The next note above or below, as the key has it."""
    up, letter = divmod(LETTERS.index(written.letter) + step, len(LETTERS))
    return replace(
        written, letter=LETTERS[letter], alter=key_alters(fifths)[letter], octave=written.octave + up
    )


def _ends_in_bar(note: ScoreNote, beats_per_bar: float) -> int:
    """The bar in which it stops sounding: a later one than its own where it is tied over the barline."""
    if note.written is None:
        return 0
    bars = (note.written.beat - 1 + note.beats) / beats_per_bar
    return note.written.bar + max(0, ceil(bars) - 1)
