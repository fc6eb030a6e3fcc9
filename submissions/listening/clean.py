"""Which part of the sound can hold the notes of this part?

Definition: the take without what lies below its lowest plausible note (handling noise, traffic) and
without mains hum, with no shift in time.

Assumptions: the part's lowest note is known; hum is 50 or 60 Hz with its second and third harmonic, and
stands out of the long-term spectrum as a line no instrument makes. The filter is applied to the whole
spectrum at once, so it has no delay and onsets stay where they were.
"""

import numpy as np

from submissions.listening.units import RATE, Floats, Floats32, fast_length, hz_from_midi

MARGIN_SEMITONES = 6
EDGE_SHARE = 0.75
LOWEST_EDGE_HZ, HIGHEST_EDGE_HZ = 70.0, 180.0
MAINS_HZ = (50.0, 60.0)
HUM_HARMONICS = (1, 2, 3)
HUM_BESIDE_HZ = 8.0
HUM_STANDS_OUT = 12.0
"""A hum line is this many times the median of the bins beside it (21 dB)."""
NOTCH_QUALITY = 25.0


def clean(samples: Floats32, *, lowest_midi: int) -> Floats32:
    """The take, high-passed below its part and without mains hum. Same length, same rate (RATE)."""
    length = fast_length(len(samples) + RATE // 4)
    spectrum = np.fft.rfft(samples - samples.mean(dtype=np.float64).astype(np.float32), length)
    hz = np.arange(len(spectrum), dtype=np.float32) * (RATE / length)
    floor_hz = hz_from_midi(lowest_midi - MARGIN_SEMITONES)
    edge = float(np.clip(EDGE_SHARE * floor_hz, LOWEST_EDGE_HZ, HIGHEST_EDGE_HZ))
    squared = (hz / edge) ** 4  # second-order Butterworth, magnitude only
    gain = np.sqrt(squared / (1.0 + squared))
    magnitude = np.abs(spectrum[hz < MAINS_HZ[-1] + HUM_BESIDE_HZ])
    for mains in MAINS_HZ:
        if _hums(magnitude, hz[: len(magnitude)], mains):
            for harmonic in HUM_HARMONICS:
                gain *= _notch(hz, mains * harmonic)
    return np.fft.irfft(spectrum * gain.astype(np.float32), length)[: len(samples)].astype(np.float32)


def _hums(magnitude: Floats32, hz: Floats32, mains: float) -> bool:
    line = np.abs(hz - mains) < 0.6
    beside = (np.abs(hz - mains) < HUM_BESIDE_HZ) & ~line
    if not line.any() or not beside.any():
        return False
    return bool(magnitude[line].max() > HUM_STANDS_OUT * np.median(magnitude[beside]))


def _notch(hz: Floats32, centre: float) -> Floats:
    detune = np.abs(hz * hz - centre * centre)
    return np.asarray(detune / np.hypot(detune, hz * centre / NOTCH_QUALITY), dtype=np.float64)
