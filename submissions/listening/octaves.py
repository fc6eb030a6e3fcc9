"""Was this note played an octave off, or does the tracker only think so?

Definition: a sound at F has energy at odd multiples of F; the same tone an octave higher has none. The
strongest of the odd partials 1, 3, 5, 7 is compared with the strongest of the even ones 2, 4, 6, and with
the floor around it.

Assumptions: the span is steady for at least 75 ms. A flute high up has a weak fundamental's octave below
in its breath noise, an oboe a weak fundamental: without this check neither may be called an octave.
"""

import numpy as np

from submissions.listening.units import RATE, Floats, Floats32

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
