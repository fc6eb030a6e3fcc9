"""Struck bars by their physics: bells, xylophone, marimba and vibraphone that ring on over one another.

A free bar's partials stand at 1 : 2.756 : 5.404 : 8.933 (Euler-Bernoulli beam; Fletcher and Rossing, The
Physics of Musical Instruments, chapter 19); makers tune the second of a xylophone to 3 and of a marimba or
vibraphone to 4 (same chapter). How long each rings is judgement, from memory.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

import numpy as np

from tests.listening.simulator.player import Tone
from tests.listening.simulator.sounding import RATE


@dataclass(frozen=True, slots=True)
class Bars:
    ratios: tuple[float, ...]
    levels: tuple[float, ...]
    rings: tuple[float, float]
    """Seconds in which the fundamental falls by 60 dB, shortest and longest, at C5 sounding; higher bars ring
    shorter."""
    fades: float
    """How many times sooner each further partial is gone."""


BARS = {
    "bells": Bars((1.0, 2.756, 5.404, 8.933), (1.0, 0.5, 0.25, 0.1), (6.0, 16.0), 2.2),
    "xylophone": Bars((1.0, 3.0, 6.2), (1.0, 0.45, 0.2), (0.5, 1.4), 2.5),
    "marimba": Bars((1.0, 4.0, 9.2), (1.0, 0.25, 0.1), (0.9, 2.5), 4.0),
    "vibraphone": Bars((1.0, 4.0, 9.2), (1.0, 0.3, 0.1), (4.0, 10.0), 3.0),
}
HIGHEST_HZ = 19_000.0


def strike_all(
    rng: Random, numbers: np.random.Generator, tones: Sequence[Tone], *, instrument: str, seconds: float
) -> np.ndarray:
    """One channel at RATE; every bar rings until it has died away, whatever is struck after it."""
    bars, count = BARS[instrument], int(seconds * RATE)
    sound = np.zeros(count)
    ring, bright = rng.uniform(*bars.rings), rng.uniform(0.6, 1.3)
    for tone in tones:
        start = int(tone.onset * RATE)
        time = np.arange(count - start) / RATE
        hz = 440.0 * 2.0 ** ((tone.midi - 69) / 12)
        level = (tone.velocity / 100) ** 1.5
        falls = ring * 2.0 ** (-(tone.midi - 72) / 24)
        for place, (ratio, share) in enumerate(zip(bars.ratios, bars.levels, strict=True)):
            if hz * ratio < HIGHEST_HZ:
                fading = np.exp(-6.9 * time * bars.fades**place / falls)
                phase = 2 * np.pi * hz * ratio * time * (1 + numbers.normal() * 2e-4 * (place > 0))
                sound[start:] += level * share * bright**place * fading * np.sin(phase)
        knock = numbers.normal(size=min(len(time), RATE // 100))
        sound[start : start + len(knock)] += 0.3 * level * knock * np.exp(-np.arange(len(knock)) / 90)
    return 0.5 * sound / (np.abs(sound).max() + 1e-9)
