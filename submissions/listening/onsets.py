"""When exactly did this note begin and stop?

Definition: within a decoded span, after a silence, the moment the level comes within 20 dB of the note's
own on the slope that carries it past 14 dB under; where the sound never stopped, the bottom of the dip that
parts it from the note before; with no dip at all (a slur), the change of pitch itself. It stops where the
level falls 14 dB under its own for good.

Assumptions: the span's boundary is right to about 100 ms; level frames stand every 5 ms.
"""

import numpy as np

from submissions.listening.units import FINE_HOP_SECONDS, FINE_PER_HOP, HOP_SECONDS, Floats

UNDER_PEAK_DB = 14.0
AUDIBLE_DB = 20.0
SLOPE_DB = 1.0
"""A rise of less than this in 5 ms is the room or the noise, not the note."""
LOUD_PERCENTILE = 90
PEAK_FINE_HOPS = 60
SEARCH_BEFORE, SEARCH_AFTER = 24, 24
DIP_BEFORE, DIP_AFTER = 8, 9
DIP_DB = 3.0
SETTLE_FINE_HOPS = 8


def onset_seconds(level_db: Floats, *, start: int, end: int) -> float:
    """Onset of the note spanning pitch frames [start, end); level_db is on the fine grid."""
    first = start * FINE_PER_HOP
    last = min(end * FINE_PER_HOP, first + PEAK_FINE_HOPS)
    loud = _loud(level_db, first, last)
    search = max(0, first - SEARCH_BEFORE)
    low = np.nonzero(level_db[search : first + SEARCH_AFTER] < loud - UNDER_PEAK_DB)[0]
    if len(low) and search + int(low[-1]) + 1 < last:
        return _foot(level_db, search + int(low[-1]), loud)
    near = max(0, first - DIP_BEFORE)
    bottom = near + int(level_db[near : first + DIP_AFTER].argmin())
    before = level_db[max(0, bottom - 30) : max(1, bottom - 5)]
    after = level_db[bottom + 5 : bottom + 30]
    if not len(after) or min(np.median(before), np.median(after)) - level_db[bottom] < DIP_DB:
        return start * HOP_SECONDS
    return (bottom + 1) * FINE_HOP_SECONDS


def end_seconds(level_db: Floats, *, onset: float, start: int, end: int) -> float:
    """When the note of pitch frames [start, end) fell silent, no later than its span's end."""
    first = start * FINE_PER_HOP
    loud = _loud(level_db, first, min(end * FINE_PER_HOP, first + PEAK_FINE_HOPS))
    settled = int(onset / FINE_HOP_SECONDS) + SETTLE_FINE_HOPS
    held = np.nonzero(level_db[settled : end * FINE_PER_HOP] > loud - UNDER_PEAK_DB)[0]
    if not len(held):
        return end * HOP_SECONDS
    return min(end * HOP_SECONDS, (settled + int(held[-1]) + 1) * FINE_HOP_SECONDS)


def _loud(level_db: Floats, first: int, last: int) -> float:
    return float(np.percentile(level_db[first : last + 1], LOUD_PERCENTILE))


def _foot(level_db: Floats, below: int, loud: float) -> float:
    """Back from the sure rise, down the same slope, to where the note is first audible."""
    while (
        below > 0 and loud - AUDIBLE_DB < level_db[below] and level_db[below - 1] < level_db[below] - SLOPE_DB
    ):
        below -= 1
    threshold = loud - AUDIBLE_DB if level_db[below] < loud - AUDIBLE_DB else loud - UNDER_PEAK_DB
    return _crossing(level_db, below, max(threshold, float(level_db[below])))


def _crossing(level_db: Floats, below: int, threshold: float) -> float:
    """Time at which the level passes the threshold after fine hop `below`, by a straight line."""
    if below + 1 >= len(level_db):
        return below * FINE_HOP_SECONDS
    low, high = float(level_db[below]), float(level_db[below + 1])
    share = 1.0 if high <= low else float(np.clip((threshold - low) / (high - low), 0.0, 1.0))
    return (below + share) * FINE_HOP_SECONDS
