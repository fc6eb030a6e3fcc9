"""How early or late was each note against the student's own beat?

Definition: the student's clock is a steady beat whose phase may shift; along the notes the cheapest
hypothesis is chosen in which each note either stands on the clock (a little off), moves the clock for good (a
hesitation: everything after it is later, and only that is so), or is itself early or late while the clock
goes on. What is reported is a note's distance from the clock on both sides of it, in beats.

Assumptions: local tempo is the median of the seconds per beat around the note. The first and last note of
an attempt have a clock on one side only and are not judged. Beyond 0.9 beat it is a stop, not a late note.
"""

from collections.abc import Sequence

import numpy as np

from submissions.listening.units import Floats

TEMPO_REACH = 7
"""Notes on each side that vote for the local tempo."""
PLAUSIBLE_TEMPO = (0.75, 1.33)
JITTER_BEATS = 0.08
"""Standard deviation of a beginner's note about the beat."""
SHIFT_COST, SHIFT_COST_PER_BEAT, SHIFT_MOST_BEATS = 3.0, 0.3, 1.5
OUTLIER_COST = 3.0
CLOCK_BACK = 3
AGREE_BEATS = 0.2
STOP_BEATS = 0.9
FEWEST_NOTES = 4


def beats_off(
    onsets: Sequence[float], beats: Sequence[float], *, seconds_per_beat: float
) -> list[float | None]:
    """For the notes of one attempt in order: beats late (early below zero); None where not judged."""
    count = len(onsets)
    if count < FEWEST_NOTES:
        return [None] * count
    phase = _phase(np.array(onsets), np.array(beats), seconds_per_beat)
    clock = _on_clock(phase)
    found: list[float | None] = [None]
    for note in range(1, count - 1):
        away = _distance(phase, clock, note)
        found.append(0.0 if away is None or abs(away) >= STOP_BEATS else away)
    found.append(None)
    return found


def unsteadiness(onsets: Sequence[float], beats: Sequence[float], *, seconds_per_beat: float) -> float | None:
    """Median size of the change of phase from one note to the next, in beats."""
    if len(onsets) < FEWEST_NOTES:
        return None
    phase = _phase(np.array(onsets), np.array(beats), seconds_per_beat)
    return float(np.median(np.abs(np.diff(phase))))


def _phase(onsets: Floats, beats: Floats, seconds_per_beat: float) -> Floats:
    """Where each note stands against a beat of the local tempo, in beats, counted from the first."""
    apart, written = np.diff(onsets), np.diff(beats)
    pace = np.where(written > 0, apart / np.where(written > 0, written, 1.0), np.nan)
    low, high = (share * seconds_per_beat for share in PLAUSIBLE_TEMPO)
    local = np.full(len(onsets), seconds_per_beat)
    for note in range(len(onsets)):
        around = pace[max(0, note - TEMPO_REACH) : note + TEMPO_REACH]
        around = around[(around > low) & (around < high)]
        if len(around) >= 3:
            local[note] = np.median(around)
    expected = written * 0.5 * (local[1:] + local[:-1])
    return np.concatenate(([0.0], np.cumsum((apart - expected) / local[1:])))


def _on_clock(phase: Floats) -> list[int]:
    """Notes that carry the clock, by the cheapest hypothesis."""
    count = len(phase)
    cost, back = np.zeros(count), np.full(count, -1)
    for note in range(count):
        cost[note] = note * OUTLIER_COST
        for earlier in range(max(0, note - CLOCK_BACK), note):
            moved = abs(phase[note] - phase[earlier])
            step = min(
                0.5 * (moved / JITTER_BEATS) ** 2,
                SHIFT_COST + SHIFT_COST_PER_BEAT * min(moved, SHIFT_MOST_BEATS),
            )
            total = cost[earlier] + (note - earlier - 1) * OUTLIER_COST + step
            if total < cost[note]:
                cost[note], back[note] = total, earlier
    note = int(np.argmin(cost + (count - 1 - np.arange(count)) * OUTLIER_COST))
    clock = []
    while note >= 0:
        clock.append(note)
        note = int(back[note])
    return clock[::-1]


def _distance(phase: Floats, clock: list[int], note: int) -> float | None:
    """The smaller distance from the clock before and after; 0 when they disagree in direction."""
    sides = []
    before = [float(phase[note] - phase[other]) for other in clock if other < note][-2:]
    after = [float(phase[note] - phase[other]) for other in clock if other > note][:2]
    for side, nearest in ((before, -1), (after, 0)):
        if side:
            agree = len(side) > 1 and abs(side[0] - side[1]) < AGREE_BEATS
            sides.append(sum(side) / 2 if agree else side[nearest])
    if not sides:
        return None
    if len(sides) == 2 and sides[0] * sides[1] <= 0:
        return 0.0
    return min(sides, key=abs)
