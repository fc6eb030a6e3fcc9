"""How pitch, level and time are counted in this engine.

Pitch is a fractional MIDI number (60 is middle C, 0.01 is one cent), A4 = 440 Hz. Level is decibels
below full scale. Pitch frames stand every 10 ms, level frames every 5 ms; frame i is centred on i hops.
"""

import numpy as np
from numpy.typing import NDArray

type Floats = NDArray[np.float64]
type Floats32 = NDArray[np.float32]
type Ints = NDArray[np.int64]
type Bools = NDArray[np.bool_]

RATE = 16_000
"""Samples per second the winds are heard at: the tuba's fundamental to the flute's tongue noise."""

HOP_SECONDS = 0.010
FINE_HOP_SECONDS = 0.005
FINE_PER_HOP = 2

A4_MIDI = 69.0
A4_HZ = 440.0


def midi_from_hz(hz: Floats | Floats32) -> Floats:
    """Fractional MIDI number of each frequency; frequencies must be above zero."""
    return np.asarray(A4_MIDI + 12.0 * np.log2(np.maximum(hz, 1e-6) / A4_HZ), dtype=np.float64)


def hz_from_midi(midi: float) -> float:
    return float(A4_HZ * 2.0 ** ((midi - A4_MIDI) / 12.0))


def fast_length(samples: int) -> int:
    """The next even length whose Fourier transform is quick (products of 2, 3 and 5)."""
    best = 1 << max(1, (samples - 1).bit_length())
    for odd in (3, 5, 9, 15, 25, 27):
        length = odd * 2
        while length < samples:
            length *= 2
        best = min(best, length)
    return best


def levels_db(samples: Floats32, *, hop_seconds: float, window_seconds: float, rate: int = RATE) -> Floats:
    """Mean power in a window around each hop, in decibels; silence is -120."""
    hop, window = round(hop_seconds * rate), round(window_seconds * rate)
    padded = np.zeros(len(samples) + window // 2 + window + hop, dtype=np.float64)
    padded[window // 2 : window // 2 + len(samples)] = samples
    np.square(padded, out=padded)
    total = np.concatenate(([0.0], np.cumsum(padded)))
    starts = np.arange(len(samples) // hop + 1) * hop
    power = (total[starts + window] - total[starts]) / window
    return np.asarray(10.0 * np.log10(np.maximum(power, 1e-12)), dtype=np.float64)
