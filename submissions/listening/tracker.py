"""Which pitches does each moment hold?

Definition: for a frame every 10 ms, the peaks of the windowed autocorrelation divided by that of the
window itself, each a candidate period with its strength (1 for a perfectly periodic sound); and one path
through them that prefers strong candidates and small leaps.

Source of the method: P. Boersma (1993), "Accurate short-term analysis of the fundamental frequency and
the harmonics-to-noise ratio of a sampled sound", IFA Proceedings 17. The lag axis is refined by
zero-padding the power spectrum (band-limited interpolation) and a parabola through each peak.

Assumptions: one voice at a time; pitch between `floor_hz` and `ceiling_hz`, constant over three periods
of the floor.
"""

from dataclasses import dataclass

import numpy as np

from submissions.listening.units import HOP_SECONDS, Bools, Floats, Floats32, Ints, fast_length

KEPT = 8
"""Candidates kept per frame."""
PERIODS_IN_WINDOW = 3.0
WEAKEST = 0.18
"""Peaks below this strength are noise."""
OCTAVE_COST = 0.03
"""Preference per octave for the shorter period, since every multiple of a period is a period too."""
BLOCK_FRAMES = 128
"""Frames transformed at once: small enough for a 60 s take to stay in a few megabytes."""

SILENCE_LOUDNESS = 0.02
UNVOICED_PREFERENCE = 0.40
LEAP_COST_PER_OCTAVE = 0.35
VOICING_CHANGE_COST = 0.14
ABSENT = -9.0


@dataclass(frozen=True, slots=True)
class Candidates:
    """Rows are frames, columns candidates from most to least preferred; 0 Hz marks an empty place."""

    hz: Floats32
    strength: Floats32
    preference: Floats32
    loudness: Floats32
    """Peak of the frame's middle against the peak of the take, 0 to 1."""


@dataclass(frozen=True, slots=True)
class Track:
    hz: Floats
    """0 where nothing periodic sounds."""
    strength: Floats


def candidates(samples: Floats32, *, rate: int, floor_hz: float, ceiling_hz: float) -> Candidates:
    """Candidate periods of every frame of a take. Raises ValueError for an impossible range."""
    if not 0 < floor_hz < ceiling_hz < rate / 2:
        raise ValueError(f"no pitch range between {floor_hz} and {ceiling_hz} Hz at {rate} Hz")
    window_length = int(PERIODS_IN_WINDOW / floor_hz * rate) // 2 * 2
    half = window_length // 2
    hop = HOP_SECONDS * rate
    count = int(len(samples) / hop) + 1
    window = _hann(window_length)
    length = fast_length(window_length + int(np.ceil(rate / floor_hz)) + 2)
    finer = int(np.clip(2 ** np.ceil(np.log2(16 * ceiling_hz / rate)), 1, 8))
    first_lag = max(2, int(np.floor(rate * finer / ceiling_hz)) - 1)
    last_lag = int(np.ceil(rate * finer / floor_hz)) + 2
    own = _autocorrelation(np.abs(np.fft.rfft(window, length)[np.newaxis]) ** 2, length * finer, last_lag)[0]
    undo_window = (own[0] / own[first_lag - 1 : last_lag + 1]).astype(np.float32)

    padded = np.concatenate(
        [np.zeros(half, np.float32), samples, np.zeros(half + int(hop) + window_length, np.float32)]
    )
    frames = np.lib.stride_tricks.sliding_window_view(padded, window_length)
    middle = max(2, int(0.5 * rate / floor_hz))
    global_peak = float(np.abs(samples).max(initial=0.0)) + 1e-12

    hz = np.zeros((count, KEPT), np.float32)
    strength = np.zeros((count, KEPT), np.float32)
    preference = np.full((count, KEPT), ABSENT, np.float32)
    loudness = np.zeros(count, np.float32)
    for start in range(0, count, BLOCK_FRAMES):
        places = np.round(np.arange(start, min(count, start + BLOCK_FRAMES)) * hop).astype(int)
        block = frames[places]
        block = block - block.mean(axis=1, keepdims=True)
        loudness[start : start + len(places)] = (
            np.abs(block[:, half - middle : half + middle]).max(axis=1) / global_peak
        )
        spectrum = np.fft.rfft(block * window, length)
        power = spectrum.real**2 + spectrum.imag**2
        lags = _autocorrelation(power, length * finer, last_lag)
        lags = lags[:, first_lag - 1 :] / np.maximum(lags[:, :1], 1e-20) * undo_window
        row, lag, height = _peaks(lags)
        if not len(row):
            continue
        found = (rate * finer / (first_lag + lag)).astype(np.float32)
        inside = (found >= 0.99 * floor_hz) & (found <= 1.01 * ceiling_hz)
        row, found, height = row[inside], found[inside], height[inside]
        height = np.where(height > 1.0, 1.0 / height, height)
        liking = height + OCTAVE_COST * np.log2(found / floor_hz)
        order = np.lexsort((-liking, row))
        row, found, height, liking = row[order], found[order], height[order], liking[order]
        rank = np.arange(len(row)) - np.searchsorted(row, row)
        best = rank < KEPT
        hz[start + row[best], rank[best]] = found[best]
        strength[start + row[best], rank[best]] = height[best]
        preference[start + row[best], rank[best]] = liking[best]
    return Candidates(hz=hz, strength=strength, preference=preference, loudness=loudness)


def best_path(found: Candidates) -> Track:
    """The likeliest single pitch of every frame (Viterbi over the candidates and "unvoiced")."""
    count, kept = found.hz.shape
    quiet = np.maximum(0.0, 2.0 - found.loudness / (SILENCE_LOUDNESS / (1.0 + UNVOICED_PREFERENCE)))
    emission = np.concatenate([found.preference, (UNVOICED_PREFERENCE + quiet)[:, np.newaxis]], axis=1)
    octaves = np.log2(np.maximum(found.hz, 1e-3))
    leap = np.zeros((count, kept + 1, kept + 1), np.float32)  # [frame, now, before]
    leap[1:, :kept, :kept] = LEAP_COST_PER_OCTAVE * np.abs(octaves[1:, :, None] - octaves[:-1, None, :])
    leap[:, kept, :kept] = VOICING_CHANGE_COST
    leap[:, :kept, kept] = VOICING_CHANGE_COST
    back = np.zeros((count, kept + 1), np.int8)
    rows = np.arange(kept + 1)
    score = emission[0].astype(np.float32)
    for frame in range(1, count):
        total = score - leap[frame]
        came = total.argmax(axis=1)
        back[frame] = came
        score = total[rows, came] + emission[frame]
    place = np.empty(count, dtype=np.int64)
    place[-1] = int(score.argmax())
    for frame in range(count - 1, 0, -1):
        place[frame - 1] = back[frame, place[frame]]
    voiced = place < kept
    column = np.minimum(place, kept - 1)
    every = np.arange(count)
    return Track(
        hz=np.where(voiced, found.hz[every, column], 0.0).astype(np.float64),
        strength=np.where(voiced, found.strength[every, column], 0.0).astype(np.float64),
    )


def _hann(length: int) -> Floats32:
    return (0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(length) + 0.5) / length)).astype(np.float32)


def _autocorrelation(power: Floats32, length: int, last_lag: int) -> Floats32:
    return np.fft.irfft(power, length, axis=-1)[:, : last_lag + 1].astype(np.float32, copy=False)


def _peaks(lags: Floats32) -> tuple[Ints, Floats32, Floats32]:
    """(row, refined lag after the first column's successor, height) of every local maximum."""
    inner = lags[:, 1:-1]
    is_peak: Bools = (inner > lags[:, :-2]) & (inner >= lags[:, 2:]) & (inner > WEAKEST)
    row, column = np.nonzero(is_peak)
    before, at, after = lags[row, column], lags[row, column + 1], lags[row, column + 2]
    bend = before - 2 * at + after
    shift = np.clip(0.5 * (before - after) / np.where(bend == 0, 1e-9, bend), -1, 1)
    height = at - 0.25 * (before - after) * shift
    return row.astype(np.int64), (column + shift).astype(np.float32), height.astype(np.float32)
