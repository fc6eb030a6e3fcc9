"""Did the student find the altered notes? The answer to a page on which they are tapped.

A note held over by a tie is the same sound as the one before: tapping it is right, leaving it is not missed.
"""

from collections.abc import Collection
from dataclasses import dataclass

from exercises.music.part import Part
from exercises.music.reading import NoteReading, Reason, read_part


@dataclass(frozen=True, slots=True)
class Taps:
    """What was tapped against what is altered; each note with its reason.

    right   altered and tapped
    missed  altered and not tapped
    extra   tapped and not altered
    """

    right: tuple[NoteReading, ...]
    missed: tuple[NoteReading, ...]
    extra: tuple[NoteReading, ...]

    @property
    def all_found(self) -> bool:
        return not self.missed and not self.extra


def answer_taps(part: Part, tapped: Collection[int], *, courtesy: bool = True) -> Taps:
    """Sort the tapped notes, given by index; rests and indexes that are no note count for nothing."""
    notes = [reading for reading in read_part(part, courtesy=courtesy) if reading.reason is not Reason.REST]
    return Taps(
        right=tuple(note for note in notes if note.altered and note.ref.index in tapped),
        missed=tuple(
            note
            for note in notes
            if note.altered and note.ref.index not in tapped and note.reason is not Reason.TIE
        ),
        extra=tuple(note for note in notes if not note.altered and note.ref.index in tapped),
    )
