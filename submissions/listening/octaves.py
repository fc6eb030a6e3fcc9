"""Was this note played an octave off, or does the tracker only think so?

Definition: a sound at F has energy at odd multiples of F; the same tone an octave higher has none. The
strongest of the odd partials 1, 3, 5, 7 is compared with the strongest of the even ones 2, 4, 6, and with
the floor around it.

Assumptions: the span is steady for at least 75 ms. A flute high up has a weak fundamental's octave below
in its breath noise, an oboe a weak fundamental: without this check neither may be called an octave.
"""

from dataclasses import dataclass

import numpy as np

from submissions.listening.units import RATE, Floats, Floats32, hz_from_midi

SHORTEST_SAMPLES, LONGEST_SAMPLES = 1200, 6144
ODD, EVEN = (1, 3, 5, 7), (2, 4, 6)
PEAK_REACH = 0.02
FLOOR_REACH = 0.32
"""Share of the fundamental on both sides whose median is the local floor."""
STRONG_SHARE = 0.5

HEARD_HIGH_ODD_DB, HEARD_HIGH_FLOOR_DB = -30.0, 14.0
"""An octave too high is only heard so, not played so, when odd partials are this strong."""
HEARD_LOW_ODD_DB = -25.0
"""An octave too low is only heard so, not played so, when odd partials are weaker than this."""
PLAYED_HIGH_ODD_DB = -40.0
"""A note heard as written was played an octave high when odd partials are weaker than this."""
CHECKED_BELOW_HZ = 900.0
"""A note heard as written is checked only under this: higher up the odd partials are too few."""
FAR_ABOVE = frozenset(range(9, 21)) - {12}
"""Semitones above the written note: more likely than such a leap is a smaller slip heard an octave high."""


@dataclass(frozen=True, slots=True)
class Steady:
    """The steady part of one note, from `start` to `end` in seconds; `tuning` in semitones."""

    samples: Floats32
    start: float
    end: float
    tuning: float

    def balance(self, midi: int) -> tuple[float, float] | None:
        """Odd against even partials of this pitch."""
        hz = hz_from_midi(midi + self.tuning)
        return odd_against_even(self.samples, start=self.start, end=self.end, fundamental_hz=hz)


def slip_heard_high(steady: Steady, *, pitch: int, target: int) -> bool:
    """Whether a slip nearer to `target` sounded, and the tracker has it an octave too high at `pitch`."""
    if pitch - target not in FAR_ABOVE:
        return False
    return _has_odd(steady.balance(pitch - 12))


def octave_played(steady: Steady, *, pitch: int, target: int) -> int:
    """The pitch played where the tracker has `pitch`: as written or an octave off, by the odd partials."""
    lower = min(pitch, target)
    as_written = pitch == target and hz_from_midi(lower + steady.tuning) < CHECKED_BELOW_HZ
    if not as_written and abs(pitch - target) != 12:
        return pitch
    balance = steady.balance(lower)
    if balance is None:
        return pitch
    odd, _over_floor = balance
    if pitch == target:
        return target + 12 if odd < PLAYED_HIGH_ODD_DB else target
    only_heard_so = _has_odd(balance) if pitch > target else odd < HEARD_LOW_ODD_DB
    return target if only_heard_so else pitch


def _has_odd(balance: tuple[float, float] | None) -> bool:
    return balance is not None and balance[0] > HEARD_HIGH_ODD_DB and balance[1] > HEARD_HIGH_FLOOR_DB


def odd_against_even(
    samples: Floats32, *, start: float, end: float, fundamental_hz: float
) -> tuple[float, float] | None:
    """(odd over even, strongest odd over its floor), in dB; None when the span is too short to tell."""
    part = samples[int(start * RATE) : int(end * RATE)][:LONGEST_SAMPLES]
    if len(part) < SHORTEST_SAMPLES:
        return None
    length = 4 * len(part)
    spectrum = np.abs(np.fft.rfft(part * np.hanning(len(part)), length))
    odd = [_partial(spectrum, length, n * fundamental_hz, fundamental_hz) for n in ODD]
    even = [_partial(spectrum, length, n * fundamental_hz, fundamental_hz)[0] for n in EVEN]
    strongest = max(peak for peak, _ in odd)
    over_floor = max(peak / floor for peak, floor in odd if peak >= STRONG_SHARE * strongest)
    return (
        float(20 * np.log10((strongest + 1e-9) / (max(even) + 1e-9))),
        float(20 * np.log10(over_floor + 1e-9)),
    )


def _partial(spectrum: Floats, length: int, hz: float, fundamental: float) -> tuple[float, float]:
    per_bin = length / RATE
    if hz * (1 + PEAK_REACH) > RATE / 2.05:
        return 0.0, 1e-9
    low, high = int(hz * (1 - PEAK_REACH) * per_bin), int(hz * (1 + PEAK_REACH) * per_bin) + 2
    around = spectrum[
        max(0, int((hz - FLOOR_REACH * fundamental) * per_bin)) : int(
            (hz + FLOOR_REACH * fundamental) * per_bin
        )
    ]
    return float(spectrum[max(0, low) : high].max(initial=0.0)), float(np.median(around)) + 1e-9
