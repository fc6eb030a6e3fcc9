"""When exactly did this note begin and stop?

Definition: within a decoded span, after a silence, the moment the level comes within 20 dB of the note's
own on the slope that carries it past 14 dB under; where noise hides that moment, the slope is followed down
to it; where the sound never stopped, the bottom of the dip that parts it from the note before; with no dip at
all (a slur, or a live room), the moment the new pitch's own partials come within 18 dB of what they reach. It
stops where the level falls 14 dB under its own for good.

Assumptions: the span's boundary is right to about 100 ms; level frames stand every 5 ms. Partials of two
pitches are told apart when they stand PARTIALS_APART_HZ from each other.
"""

from dataclasses import dataclass

import numpy as np

from submissions.listening.units import (
    FINE_HOP_SECONDS,
    FINE_PER_HOP,
    HOP_SECONDS,
    RATE,
    Floats,
    Floats32,
    hz_from_midi,
)

UNDER_PEAK_DB = 14.0
AUDIBLE_DB = 20.0
MASKED_RISE_DB = 6.0
"""From 14 to 8 dB under: as far again as the slope must be followed down when noise hides its foot."""
MASKED_SHARE, MASKED_MOST_SECONDS = 0.4, 0.030
"""A slope is steeper below than above; fitted to simulated takes with and without noise."""
SLUR_LATE_SECONDS = 0.020
"""A new pitch wins a frame when it fills half the tracker's window (measured on simulated slurs)."""
SLOPE_DB = 1.0
"""A rise of less than this in 5 ms is the room or the noise, not the note."""
LOUD_PERCENTILE = 90
PEAK_FINE_HOPS = 60
SEARCH_BEFORE, SEARCH_AFTER = 24, 24
DIP_BEFORE, DIP_AFTER = 8, 9
DIP_DB = 3.0
PARTIALS_APART_HZ, HIGHEST_PARTIAL_HZ, MOST_PARTIALS = 60.0, 4000.0, 12
"""The window's main lobe is 50 Hz wide on each side."""
RISE_WINDOW_SECONDS, RISE_BEFORE_SECONDS, RISE_AFTER_SECONDS = 0.040, 0.15, 0.10
RISEN_DB = 18.0
"""As AUDIBLE_DB, less what leaks in from the old pitch and the room (fitted to simulated takes)."""
SETTLE_FINE_HOPS = 8


@dataclass(frozen=True, slots=True)
class PitchChange:
    """From which pitch to which, in fractional MIDI as it sounds; and the sound itself."""

    samples: Floats32
    before: float
    after: float


def onset_seconds(level_db: Floats, *, start: int, end: int, change: PitchChange | None = None) -> float:
    """Onset of the note spanning pitch frames [start, end); level_db is on the fine grid.

    `change` is given where another pitch sounds right before.
    """
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
    if len(after) and min(np.median(before), np.median(after)) - level_db[bottom] >= DIP_DB:
        return bottom * FINE_HOP_SECONDS
    risen = None if change is None else _partials_rise(change, near=start * HOP_SECONDS)
    return max(0.0, start * HOP_SECONDS - SLUR_LATE_SECONDS) if risen is None else risen


def _partials_rise(change: PitchChange, *, near: float) -> float | None:
    """When the partials that only the new pitch has come within RISEN_DB of what they reach."""
    old, new = hz_from_midi(change.before), hz_from_midi(change.after)
    own = np.arange(1, MOST_PARTIALS + 1) * new
    own = own[own < HIGHEST_PARTIAL_HZ]
    own = own[np.abs(own - old * np.maximum(1, np.round(own / old))) > PARTIALS_APART_HZ]
    hop, length = round(FINE_HOP_SECONDS * RATE), round(RISE_WINDOW_SECONDS * RATE)
    first = round((near - RISE_BEFORE_SECONDS) / FINE_HOP_SECONDS)
    count = round((RISE_BEFORE_SECONDS + RISE_AFTER_SECONDS) / FINE_HOP_SECONDS)
    begin = first * hop - length // 2
    part = change.samples[max(0, begin) : begin + count * hop + length]
    if not len(own) or begin < 0 or len(part) < count * hop + length:
        return None
    rows = np.lib.stride_tricks.sliding_window_view(part, length)[::hop][:count]
    waves = np.exp(-2j * np.pi * np.outer(np.arange(length) / RATE, own))
    level = 10 * np.log10((np.abs((rows * np.hanning(length)) @ waves) ** 2).sum(axis=1) + 1e-12)
    ahead = round(RISE_BEFORE_SECONDS / FINE_HOP_SECONDS)
    peak = ahead + int(level[ahead:].argmax())
    under = np.nonzero(level[:peak] < level[peak] - RISEN_DB)[0]
    if not len(under):
        return None
    return first * FINE_HOP_SECONDS + _crossing(level, int(under[-1]), float(level[peak]) - RISEN_DB)


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
    if level_db[below] < loud - AUDIBLE_DB:
        return _crossing(level_db, below, loud - AUDIBLE_DB)
    risen = loud - UNDER_PEAK_DB
    at = _crossing(level_db, below, max(risen, float(level_db[below])))
    above = np.nonzero(level_db[below:] > risen + MASKED_RISE_DB)[0]
    if not len(above) or not above[0]:
        return at
    rise = _crossing(level_db, below + int(above[0]) - 1, risen + MASKED_RISE_DB) - at
    return max(0.0, at - min(MASKED_SHARE * rise, MASKED_MOST_SECONDS))


def _crossing(level_db: Floats, below: int, threshold: float) -> float:
    """Time at which the level passes the threshold after fine hop `below`, by a straight line."""
    if below + 1 >= len(level_db):
        return below * FINE_HOP_SECONDS
    low, high = float(level_db[below]), float(level_db[below + 1])
    share = 1.0 if high <= low else float(np.clip((threshold - low) / (high - low), 0.0, 1.0))
    return (below + share) * FINE_HOP_SECONDS
