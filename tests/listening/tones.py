"""Plain harmonic tones, exact to the sample: for tests that need to know pitch and onset to the cent."""

from collections.abc import Sequence

import numpy as np

RATE = 16_000
PARTIALS = (1.0, 0.6, 0.4, 0.25, 0.15, 0.1)


def tone(midi: float, seconds: float, *, rate: int = RATE, attack: float = 0.01) -> np.ndarray:
    time = np.arange(int(seconds * rate)) / rate
    hz = 440.0 * 2 ** ((midi - 69) / 12)
    wave = sum(
        level * np.sin(2 * np.pi * hz * n * time)
        for n, level in enumerate(PARTIALS, 1)
        if hz * n < rate / 2.2
    )
    edge = np.minimum(1.0, np.minimum(time / attack, (seconds - time) / attack))
    return (0.3 * wave * np.clip(edge, 0, 1)).astype(np.float32)


def line(notes: Sequence[tuple[float, float, float]], seconds: float, *, rate: int = RATE) -> np.ndarray:
    """Sound of (midi, onset, held) notes with a little noise under them."""
    sound = np.random.default_rng(5).normal(scale=2e-4, size=int(seconds * rate)).astype(np.float32)
    for midi, onset, held in notes:
        wave = tone(midi, held, rate=rate)
        at = round(onset * rate)
        sound[at : at + len(wave)] += wave
    return sound


def score_of(midis: Sequence[int], *, beats: float = 1.0, instrument: str = "flute", **more: object) -> dict:
    """A score of equal notes in a row."""
    return {
        "instrument": instrument,
        "tempo_bpm": None,
        "beats_per_bar": 4,
        "notes": [{"midi": m, "start_beat": i * beats, "beats": beats} for i, m in enumerate(midis)],
        **more,
    }


def played(midis: Sequence[float], *, pace: float = 0.75, start: float = 0.5, share: float = 0.9) -> list:
    """(midi, onset, held) of equal notes in a row."""
    return [(m, start + i * pace, pace * share) for i, m in enumerate(midis)]
