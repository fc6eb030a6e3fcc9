"""How loud is a take from left to right, and is anything wrong with its level?"""

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from submissions.preparing.findings import Finding
from submissions.preparing.reading import Block

BINS_A_SECOND = 100
MOST_PEAKS = 600
# Peak levels, full scale at 1. A dead microphone stays below -50 dB; a student who can be heard at all
# across a room reaches -34 dB. Chosen on synthesised takes with room noise; common practice, no source.
SILENT_BELOW = 0.003
QUIET_BELOW = 0.02
# A converter at its limit repeats full scale. One sample in 2,000 is heard as a rasp.
CLIPPED_AT = 0.999
CLIPPED_SHARE = 0.0005
# Short noises (a bump, a click) do not make a silent take loud.
IGNORED_SHARE = 0.01
# The marker lasts 0.04 s; a codec smears it a little to both sides.
MARKER_BINS = (-2, 7)


def _room(seconds: int) -> NDArray[np.float32]:
    return np.zeros(seconds * BINS_A_SECOND, np.float32)


@dataclass(slots=True)
class Loudness:
    """Feed it blocks in order, then ask."""

    samples: int = 0
    clipped: int = 0
    seconds: float = 0.0
    _bins: NDArray[np.float32] = field(default_factory=lambda: _room(60))

    def add(self, block: Block) -> None:
        """Take in one block of sound, wherever it stands."""
        if block.samples.size == 0:
            return
        level = np.abs(block.samples).max(axis=0)
        self.samples += level.size
        self.clipped += int((level >= CLIPPED_AT).sum())
        self.seconds = max(self.seconds, block.end / block.rate)
        bin_of = np.arange(block.start, block.end, dtype=np.int64) * BINS_A_SECOND // block.rate
        starts = np.concatenate(([0], np.flatnonzero(np.diff(bin_of)) + 1))
        missing = int(bin_of[-1]) + 1 - self._bins.size
        if missing > 0:
            self._bins = np.concatenate((self._bins, np.zeros(missing + self._bins.size, np.float32)))
        np.maximum.at(self._bins, bin_of[starts], np.maximum.reduceat(level, starts))

    @property
    def bins(self) -> NDArray[np.float32]:
        """Highest level in each hundredth of a second."""
        return self._bins[: math.ceil(self.seconds * BINS_A_SECOND)]

    def peaks(self) -> list[int]:
        """At most 600 values from 0 to 100, the loudest moment of the take at 100.

        A silent take is drawn at its true level, as a flat line.
        """
        if self.bins.size == 0:
            return []
        size = math.ceil(self.bins.size / MOST_PEAKS)
        highest = np.pad(self.bins, (0, -self.bins.size % size)).reshape(-1, size).max(axis=1)
        top = float(highest.max())
        full = top if top >= SILENT_BELOW else 1.0
        return [int(value) for value in np.rint(100 * highest / full)]

    def findings(self, *, marker_seconds: float | None) -> list[Finding]:
        """What the level says; the recorder's own marker is not the student's sound."""
        bins = self.bins.copy()
        if marker_seconds is not None:
            before, after = MARKER_BINS
            at = int(marker_seconds * BINS_A_SECOND)
            bins[max(0, at + before) : at + after] = 0
        level = float(np.quantile(bins, 1 - IGNORED_SHARE)) if bins.size else 0.0
        if level < SILENT_BELOW:
            return [Finding.SILENT]
        found = [Finding.VERY_QUIET] if level < QUIET_BELOW else []
        if self.clipped > CLIPPED_SHARE * self.samples:
            found.append(Finding.CLIPPED)
        return found
