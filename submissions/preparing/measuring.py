"""Decodes a recording to its end and says what is in it: length, level, loudness, the recorder's marker."""

from dataclasses import dataclass, field

import numpy as np

from submissions.preparing.findings import Limits, Refusal, Unusable
from submissions.preparing.loudness import Loudness
from submissions.preparing.marker import Beginning
from submissions.preparing.opening import Opened
from submissions.preparing.reading import Block, Reading

# A served copy holds what came: to this length and this level (root mean square), else it is made anew.
SAME_LENGTH_SECONDS = 0.05
SAME_LEVEL_DECIBELS = 1.0
# Below this, full scale at 1, a level is the rounding of 16 bits and says nothing.
FLOOR = 1e-5


@dataclass(slots=True)
class Measured:
    """What a file holds. `lost_seconds` is the length of what could not be decoded.

    `gap_seconds` is the length of holes between sounds; `ends_broken`, that the last of it did not decode.
    """

    loudness: Loudness = field(default_factory=Loudness)
    beginning: Beginning = field(default_factory=Beginning)
    lost_seconds: float = 0.0
    gap_seconds: float = 0.0
    ends_broken: bool = False
    _first: float | None = None
    _energy: float = 0.0
    _rate: int = 0

    @property
    def seconds(self) -> float:
        """Where the last sound ends, on the file's own time line."""
        return self.loudness.seconds

    @property
    def span(self) -> float:
        """Seconds from the first sound to the end of the last."""
        return self.seconds - (self._first or 0.0)

    @property
    def sounding(self) -> float:
        """Seconds of sound, without holes."""
        return self.loudness.samples / self._rate if self._rate else 0.0

    @property
    def level(self) -> float:
        """Root mean square over all that sounds, the mean of its channels, full scale at 1."""
        return float(np.sqrt(self._energy / self.loudness.samples)) if self.loudness.samples else 0.0

    def add(self, block: Block) -> None:
        """Take in one block of sound."""
        if block.samples.size and self._first is None:
            self._first = block.start / block.rate
        self._rate = block.rate
        self.loudness.add(block)
        self.beginning.add(block)
        self._energy += float(np.square(block.samples.mean(axis=0, dtype=np.float64)).sum())

    def is_like(self, other: "Measured") -> bool:
        """Whether both hold the same sound, by its length and its level."""
        if abs(self.span - other.span) > SAME_LENGTH_SECONDS:
            return False
        ratio = max(self.level, FLOOR) / max(other.level, FLOOR)
        return abs(20 * float(np.log10(ratio))) <= SAME_LEVEL_DECIBELS


def measure(opened: Opened, *, limits: Limits) -> Measured:
    """Decode all of it; raise Unusable where it is longer than a take may be."""
    measured, reading = Measured(), Reading(opened)
    for block in reading:
        measured.add(block)
        if measured.sounding > limits.longest_seconds:
            raise Unusable(Refusal.TOO_LONG, minutes=limits.longest_minutes)
    measured.lost_seconds, measured.gap_seconds = reading.lost_seconds, reading.gap_seconds
    measured.ends_broken = reading.last_failed
    return measured
