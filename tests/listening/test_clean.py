"""Hum and rumble go; what the part can hold stays."""

import numpy as np
import pytest

from submissions.listening.clean import clean
from submissions.listening.units import RATE


def level(sound: np.ndarray, hz: float) -> float:
    """Of one frequency, in decibels."""
    time = np.arange(len(sound)) / RATE
    return float(20 * np.log10(abs(np.mean(sound * np.exp(-2j * np.pi * hz * time))) + 1e-12))


@pytest.mark.parametrize("mains", [50.0, 60.0])
@pytest.mark.parametrize(("lowest_midi", "tone_hz"), [(34, 58.27), (55, 196.0)])
def test_mains_hum_goes_under_low_and_high_parts(mains, lowest_midi, tone_hz):
    time = np.arange(8 * RATE) / RATE
    hum = sum(np.sin(2 * np.pi * mains * n * time) / n for n in (1, 2, 3))
    note = np.sin(2 * np.pi * 3 * tone_hz * time) * (np.sin(2 * np.pi * time) > 0)
    noise = np.random.default_rng(2).normal(scale=0.01, size=len(time))
    sound = (0.05 * hum + 0.2 * note + noise).astype(np.float32)
    cleaned = clean(sound, lowest_midi=lowest_midi)
    for harmonic in (1, 2, 3):
        assert level(cleaned, mains * harmonic) < level(sound, mains * harmonic) - 20
    assert level(cleaned, 3 * tone_hz) == pytest.approx(level(sound, 3 * tone_hz), abs=2.5)


def test_without_hum_the_same_frequencies_stay():
    time = np.arange(4 * RATE) / RATE
    sound = (0.2 * np.sin(2 * np.pi * 100 * time)).astype(np.float32)
    assert level(clean(sound, lowest_midi=43), 100) == pytest.approx(level(sound, 100), abs=1.5)
