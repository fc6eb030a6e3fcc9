"""In which octave is a line easiest to play, and how does it lie in a range?"""

from collections.abc import Sequence
from enum import StrEnum

from exercises.music.errors import MusicError
from exercises.music.instruments import Ranges
from exercises.music.pitch import HIGHEST_OCTAVE, LOWEST_OCTAVE, Pitch

#: How many stretched notes one note outside the range weighs (a director's judgement, no source). A line that
#: is easy but for a note or two stays where it is easy: that note is shown and can be left out or replaced.
#: A whole line that strains to reach it could not be mended.
OUTSIDE_COUNTS = 6


class RangeVerdict(StrEnum):
    COMFORTABLE = "comfortable"
    STRETCH = "stretch"
    OUTSIDE = "outside"

    @classmethod
    def of(cls, pitch: Pitch, ranges: Ranges) -> "RangeVerdict":
        """How one written note lies in these ranges."""
        if ranges.extended.distance(pitch.midi):
            return cls.OUTSIDE
        return cls.STRETCH if ranges.comfortable.distance(pitch.midi) else cls.COMFORTABLE


def best_octave(pitches: Sequence[Pitch], ranges: Ranges) -> int:
    """The octave shift in which these notes are easiest to play, one for all of them.

    Each note beyond the comfortable range counts one, each beyond the extended range OUTSIDE_COUNTS; then the
    half steps beyond the comfortable range decide, then how near its middle the notes lie. Raises MusicError
    when no octave can be printed.
    """
    heights = [pitch.midi for pitch in pitches]
    lowest, highest = min(pitch.octave for pitch in pitches), max(pitch.octave for pitch in pitches)
    reachable = range(LOWEST_OCTAVE - lowest, HIGHEST_OCTAVE - highest + 1)
    middle = (ranges.comfortable.low.midi + ranges.comfortable.high.midi) / 2

    def strain(octaves: int) -> tuple[int, int, float, int]:
        moved = [midi + 12 * octaves for midi in heights]
        beyond_easy = [ranges.comfortable.distance(midi) for midi in moved]
        outside = sum(ranges.extended.distance(midi) > 0 for midi in moved)
        stretched = sum(distance > 0 for distance in beyond_easy) - outside
        return (
            stretched + OUTSIDE_COUNTS * outside,
            sum(beyond_easy),
            abs(sum(moved) / len(moved) - middle),
            abs(octaves),
        )

    if not reachable:
        raise MusicError("These notes lie too far apart for one part: bring them closer together.")
    return min(reachable, key=strain)
