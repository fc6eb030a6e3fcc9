"""Can this recording be heard at all, and does anybody play in it?

Definition: clipped, very quiet or noisy sound, from the samples and the levels; and, from the tracked
pitch, whether any held pitch sounds. Speech glides and clicks do not hold: a take in which almost no
frame belongs to a steady, clearly periodic stretch of 120 ms has no player in it.

Assumptions: a beginner's note, however poor, is steady within a quarter tone for 120 ms.
"""

import numpy as np

from submissions.listening.evidence import Quality
from submissions.listening.frames import Heard
from submissions.listening.units import HOP_SECONDS, Bools, Floats, Floats32

FULL_SCALE = 0.98
CLIPPED_SHARE = 0.0005
CLIPPED_RUN = 3
QUIET_DB = -50.0
SILENT_DB = -75.0
NOISY_DB = 14.0
"""Less than this between the playing and the noise."""

STEADY_SEMITONES = 0.25
STEADY_STRENGTH = 0.70
STEADY_FRAMES = 12
FEWEST_STEADY_SECONDS = 0.35


def sound_quality(samples: Floats32) -> list[Quality]:
    """What the samples alone show: clipped, very quiet, silent."""
    peak = float(np.abs(samples).max(initial=0.0))
    loud = 10 * np.log10(float(np.square(samples, dtype=np.float64).mean()) + 1e-15)
    if peak == 0.0 or loud < SILENT_DB:
        return [Quality.SILENT]
    found = []
    if _clipped(samples, peak):
        found.append(Quality.CLIPPED)
    if loud < QUIET_DB:
        found.append(Quality.QUIET)
    return found


def _clipped(samples: Floats32, peak: float) -> bool:
    """Runs of samples held at the take's own top: coding and resampling only blur them a little."""
    top = np.abs(samples) >= FULL_SCALE * peak
    runs = top[: -CLIPPED_RUN + 1].copy()
    for step in range(1, CLIPPED_RUN):
        runs &= top[step : len(top) - CLIPPED_RUN + 1 + step]
    return bool(runs.mean() > CLIPPED_SHARE)


def steady_frames(midi: Floats, strength: Floats, voiced: Bools) -> Bools:
    """Frames inside stretches of at least STEADY_FRAMES whose pitch and strength hold."""
    moved = np.abs(np.diff(midi, prepend=np.nan))
    holds = voiced & (strength > STEADY_STRENGTH) & (np.nan_to_num(moved, nan=9.0) < STEADY_SEMITONES)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], holds.view(np.int8), [0]))))
    steady = np.zeros_like(holds)
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        if end - start >= STEADY_FRAMES:
            steady[start:end] = True
    return steady


def is_noisy(heard: Heard) -> bool:
    return heard.peak_db - heard.noise_db < NOISY_DB


def nobody_plays(heard: Heard) -> list[Quality]:
    """NOBODY_PLAYS, and what sounds instead where that is clear; empty when somebody plays."""
    steady = steady_frames(heard.midi, heard.track.strength, heard.voiced)
    if steady.sum() * HOP_SECONDS >= FEWEST_STEADY_SECONDS:
        return []
    return [Quality.NOBODY_PLAYS]
