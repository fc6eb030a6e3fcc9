"""When in a take does each written beat sound?

Three sources, the best there is: what the listener heard; the recorder's marker of beat 1 with the
tempo of the assignment; or, for a file made elsewhere, a guess from where sound begins and ends. A page
says which, because only the first follows the student's own tempo.

Beats are quarter notes from the beginning of the line; seconds run from the start of the take.
"""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

#: Loudness (0 to 100) from which a peak counts as sound, where a take's silence is not known better.
SOUND_FROM = 12
#: Two notes cannot start closer than this; a smaller step in the evidence is noise.
LEAST_STEP_SECONDS = 0.02


class Source(StrEnum):
    HEARD = "heard"
    COUNTED = "counted"
    GUESSED = "guessed"

    @property
    def words(self) -> str:
        return WORDS[self]


WORDS = {
    Source.HEARD: "",
    Source.COUNTED: "Sound placed by the count-off and the tempo.",
    Source.GUESSED: "Sound placed roughly: from the first sound to the last.",
}


@dataclass(frozen=True, slots=True)
class TimeMap:
    """Points (beat, seconds), both rising, at least two. Between them time runs evenly."""

    points: tuple[tuple[float, float], ...]
    source: Source

    def seconds_at(self, beat: float) -> float:
        return _along(self.points, beat)

    def beat_at(self, seconds: float) -> float:
        return _along([(s, b) for b, s in self.points], seconds)


def heard_map(starts: Sequence[float], onsets: Sequence[float | None]) -> TimeMap | None:
    """From the listener's onsets, one for each written note; None with fewer than two to go by.

    An onset that does not come after the one before (a restart, a guess gone wrong) is left out.
    """
    points: list[tuple[float, float]] = []
    for beat, onset in zip(starts, onsets, strict=True):
        if onset is not None and (not points or onset >= points[-1][1] + LEAST_STEP_SECONDS):
            points.append((float(beat), float(onset)))
    return TimeMap(tuple(points), Source.HEARD) if len(points) > 1 else None


def counted_map(*, beat_one_seconds: float, tempo_bpm: float, beats: float, before: float = 0.0) -> TimeMap:
    """From the marker at beat 1; `before` are the beats of lines played earlier in the same take."""
    beat = 60.0 / tempo_bpm
    start = beat_one_seconds + before * beat
    return TimeMap(((0.0, start), (beats, start + beats * beat)), Source.COUNTED)


def guessed_map(
    *, peaks: Sequence[int], seconds: float, beats: float, before: float = 0.0, after: float = 0.0
) -> TimeMap | None:
    """The written beats spread from the first sound to the last; None where nothing sounds."""
    loud = [index for index, peak in enumerate(peaks) if peak >= SOUND_FROM]
    if not loud or seconds <= 0:
        return None
    first, last = loud[0] * seconds / len(peaks), (loud[-1] + 1) * seconds / len(peaks)
    beat = (last - first) / (before + beats + after)
    start = first + before * beat
    return TimeMap(((0.0, start), (beats, start + beats * beat)), Source.GUESSED)


def first_of(maps: Iterable[TimeMap | None]) -> TimeMap | None:
    return next((found for found in maps if found is not None), None)


def _along(points: Sequence[tuple[float, float]], x: float) -> float:
    """Straight between two points; beyond the ends the nearest stretch goes on."""
    right = min(max(bisect_right([a for a, _ in points], x), 1), len(points) - 1)
    (a, b), (c, d) = points[right - 1], points[right]
    return b + (x - a) * (d - b) / (c - a)
