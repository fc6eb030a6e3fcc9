"""How do level and brightness move?

Definition: every 5 ms, the level of the whole sound, the level of its high end (where the tongue is
heard), and the spectral flux: how much each of 24 bands rose over the last 20 ms, whole and above 2.5 kHz.

Assumptions: a band's noise floor is its tenth percentile over the take; rises under it mean nothing.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from submissions.listening.units import FINE_HOP_SECONDS, RATE, Floats, Floats32, levels_db

FRAME = 512
BANDS = 24
LOWEST_BAND_HZ, HIGHEST_BAND_HZ = 150.0, 7600.0
HIGH_BAND_HZ = 2500.0
LAG_HOPS = 4
BLOCK_FRAMES = 1024
LEVEL_WINDOW_SECONDS, HIGH_WINDOW_SECONDS = 0.020, 0.015


@dataclass(frozen=True, slots=True)
class Envelopes:
    """Parallel rows, one every FINE_HOP_SECONDS."""

    level_db: Floats
    high_db: Floats
    flux: Floats
    high_flux: Floats


def envelopes(samples: Floats32) -> Envelopes:
    bands, edges = _band_levels(samples)
    floor = np.percentile(bands, 10, axis=0) + 1e-7
    loud = np.log(bands + 2.0 * floor)
    rise = np.zeros_like(loud)
    rise[LAG_HOPS:] = np.maximum(0.0, loud[LAG_HOPS:] - loud[:-LAG_HOPS])
    level = levels_db(samples, hop_seconds=FINE_HOP_SECONDS, window_seconds=LEVEL_WINDOW_SECONDS)
    sharpened = np.diff(samples, n=2, prepend=np.zeros(2, np.float32))
    high = levels_db(sharpened, hop_seconds=FINE_HOP_SECONDS, window_seconds=HIGH_WINDOW_SECONDS)
    count = min(len(level), len(high), len(rise))
    return Envelopes(
        level_db=level[:count],
        high_db=high[:count],
        flux=rise.mean(axis=1)[:count],
        high_flux=rise[:, edges[:-1] > HIGH_BAND_HZ].mean(axis=1)[:count],
    )


def _band_levels(samples: Floats32) -> tuple[Floats, Floats]:
    hop = round(FINE_HOP_SECONDS * RATE)
    count = len(samples) // hop + 1
    padded = np.concatenate([np.zeros(FRAME // 2, np.float32), samples, np.zeros(FRAME, np.float32)])
    view = np.lib.stride_tricks.sliding_window_view(padded, FRAME)[::hop][:count]
    window = np.hanning(FRAME).astype(np.float32)
    hz = np.arange(FRAME // 2 + 1) * RATE / FRAME
    edges = np.geomspace(LOWEST_BAND_HZ, HIGHEST_BAND_HZ, BANDS + 1)
    gather = np.zeros((len(hz), BANDS), np.float32)
    for band, (low, high) in enumerate(pairwise(edges)):
        inside = (hz >= low) & (hz < high)
        if not inside.any():
            inside = np.arange(len(hz)) == int(np.abs(hz - low).argmin())
        gather[inside, band] = 1.0 / inside.sum()
    bands = np.empty((count, BANDS), dtype=np.float64)
    for start in range(0, count, BLOCK_FRAMES):
        block = np.fft.rfft(view[start : start + BLOCK_FRAMES] * window, axis=1)
        bands[start : start + BLOCK_FRAMES] = np.abs(block) @ gather
    return bands, edges
