"""Notes beyond a range, in words: what a director decides about."""

from collections.abc import Iterator
from dataclasses import dataclass

from exercises.music.instruments import Ranges
from exercises.music.part import Part, RangeVerdict
from exercises.pages.reading_guide import place_words


@dataclass(frozen=True, slots=True)
class OutsideNote:
    """A note beyond the range, for the director to decide about."""

    index: int
    place: str
    name: str


def range_words(part: Part, ranges: Ranges) -> str:
    """ "2 of 15 above C, the highest taught note; 3 below G, the lowest easy note"."""
    pitches = [note.pitch for note in part.line.notes if note.pitch]
    if part.verdict is RangeVerdict.COMFORTABLE:
        return ""
    limits, low_words, high_words = (
        (ranges.extended, "the lowest taught note", "the highest taught note")
        if part.verdict is RangeVerdict.OUTSIDE
        else (ranges.comfortable, "the lowest easy note", "the highest easy note")
    )
    above = sum(pitch.midi > limits.high.midi for pitch in pitches)
    below = sum(pitch.midi < limits.low.midi for pitch in pitches)
    said = []
    if above:
        said.append(f"{above} of {len(pitches)} above {limits.high.printed}, {high_words}")
    if below:
        said.append(f"{below} of {len(pitches)} below {limits.low.printed}, {low_words}")
    return "; ".join(said)


def outside_notes(part: Part) -> Iterator[OutsideNote]:
    for ref in part.outside:
        pitch = part.line.notes[ref.index].pitch
        if pitch is not None:
            yield OutsideNote(ref.index, place_words(part, ref), pitch.printed)
