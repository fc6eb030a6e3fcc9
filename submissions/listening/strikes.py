"""When was which bar struck?

Definition: a strike is a sudden rise of the spectrum; its pitch is the lowest strong peak that the strike
added, by comparing the spectrum just after it with that just before. A bar that rings already may gain
nothing at its own pitch; then its overtones, which were gone, tell that it was struck again.

Assumptions: bars ring on over one another; a bar's overtones stand at about 2.76 (bells), 3 (xylophone) or
4 (marimba) times its pitch and fade first; bars are in tune with one another, so a semitone is a semitone.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from submissions.listening.units import (
    Floats,
    Floats32,
    fast_length,
    hz_from_midi,
    levels_db,
    midi_from_hz,
)

RATE = 44_100
"""A bell's strike has its pitch up to 4 kHz and its proof above."""

BELOW_PART, ABOVE_PART = 7, 8
FLUX_FRAME, FLUX_HOP = 2048, 441
FLUX_CEILING = 3.2
STRIKE_SHARE, STRIKE_PROMINENCE = 0.15, 0.10
STRIKE_APART = 8
"""Hops (80 ms) between strikes."""
SPECTRUM = 4096
AFTER_SECONDS, BEFORE_SECONDS, TAIL_SECONDS = 0.015, 0.105, 0.11
OVERTONES = (2.756, 3.0, 4.0, 2.0)
OVERTONE_SHARE = 0.2
LEAST_KEPT = 0.03
"""A strike's peak still has this share of its height a tenth of a second later (xylophone: a tenth)."""
MOST_KEPT = 1.6
"""A peak that goes on growing was not struck here: two bars beat, or a voice swells."""
SAME_BAR = 0.008
"""An overtone within this share of its place may be this bar's; a semitone is 0.059."""
STILL_RINGING = 0.3
WEAK_SHARE = 0.01
"""A peak added with less than this share of what rings beside it is the ringing's own, not a strike's."""
AGAIN_KEPT = 0.2
"""How sure a strike told by its overtones is, beside one told by its pitch."""
TONAL_DB = 28.0
"""A bar's peak stands this far out of what the strike added around it; in noise and voices few do (simulated
strikes: 31 or more, all but one in fifty; noise: 27 at most; voices: one in ten has it)."""
LEAST_IN_TUNE = 0.6
"""Length of the mean of all strikes' places within the semitone: 1 for a tuned set of bars, near 0 for a
voice. Under this no instrument is struck."""
FARTHEST_FROM_BAR = 0.25
TONAL_REACH = 2.0**0.5
PEAK_WIDTH = 2.5
"""Half the width of a peak, in lines of the spectrum."""
EDGE_HOP_SECONDS, EDGE_WINDOW_SECONDS = 0.0025, 0.005
EDGE_BEFORE, EDGE_AFTER = 12, 10
WEAKER_DB = 30.0


@dataclass(frozen=True, slots=True)
class Strike:
    seconds: float
    midi: float
    level_db: float
    kept: float

    @property
    def pitch(self) -> int:
        return round(self.midi)


def strikes(samples: Floats32, *, lowest: int, highest: int, notes: int) -> list[Strike]:
    """Strikes in order, with their pitch within some semitones of the part.

    As many as there are `notes`, the loudest, tell how loud a strike is; what is far weaker is noise.
    """
    low, high = lowest - BELOW_PART, highest + ABOVE_PART
    padded = np.concatenate(
        [np.zeros(SPECTRUM + 8000, np.float32), samples, np.zeros(3 * SPECTRUM, np.float32)]
    )
    found: list[Strike] = []
    sharpened = np.diff(samples, prepend=np.zeros(1, np.float32))
    level = levels_db(sharpened, hop_seconds=EDGE_HOP_SECONDS, window_seconds=EDGE_WINDOW_SECONDS, rate=RATE)
    for hop in _rises(samples, low, high):
        strike = _strike(padded, hop * FLUX_HOP / RATE, low, high, [known.midi for known in found])
        if strike is not None:
            found.append(replace(strike, seconds=_edge(level, strike.seconds)))
    if not found:
        return []
    usual = np.median(sorted(strike.level_db for strike in found)[-notes:])
    found = [strike for strike in found if strike.level_db > usual - WEAKER_DB]
    weight = np.array([10.0 ** (strike.level_db / 40) for strike in found])
    turns = np.average(np.exp(2j * np.pi * np.array([strike.midi for strike in found])), weights=weight)
    if abs(turns) < LEAST_IN_TUNE:
        return []
    tuning = float(np.angle(turns)) / (2 * np.pi)
    return [s for s in found if abs((s.midi - tuning + 0.5) % 1.0 - 0.5) < FARTHEST_FROM_BAR]


def _rises(samples: Floats32, low: int, high: int) -> list[int]:
    """Hops at which the spectrum around the part rises at once."""
    count = len(samples) // FLUX_HOP + 1
    padded = np.concatenate(
        [np.zeros(FLUX_FRAME // 2, np.float32), samples, np.zeros(FLUX_FRAME, np.float32)]
    )
    view = np.lib.stride_tricks.sliding_window_view(padded, FLUX_FRAME)[::FLUX_HOP][:count]
    hz = np.arange(FLUX_FRAME // 2 + 1) * RATE / FLUX_FRAME
    band = (hz > 0.95 * hz_from_midi(low)) & (hz < min(20_000.0, FLUX_CEILING * hz_from_midi(high)))
    window = np.hanning(FLUX_FRAME).astype(np.float32)
    magnitude = np.concatenate(
        [
            np.abs(np.fft.rfft(view[start : start + 512] * window, axis=1))[:, band]
            for start in range(0, count, 512)
        ]
    )
    loud = np.log1p(magnitude / (3 * np.median(magnitude) + 1e-9))
    flux = np.zeros(count)
    flux[1:-1] = np.maximum(0.0, loud[2:] - loud[:-2]).sum(axis=1)
    flux /= np.percentile(flux, 99) + 1e-9
    padded_flux = np.pad(flux, STRIKE_APART)
    window_max = np.lib.stride_tricks.sliding_window_view(padded_flux, 2 * STRIKE_APART + 1).max(axis=1)
    peaks = np.nonzero((flux == window_max) & (flux > STRIKE_SHARE))[0]
    return [int(hop) for hop in peaks if _prominence(flux, int(hop)) > STRIKE_PROMINENCE]


def _edge(level: Floats, seconds: float) -> float:
    """The steepest rise of the sharpened sound near a strike: where the mallet meets the bar."""
    at = round(seconds * RATE / round(EDGE_HOP_SECONDS * RATE))
    first = max(0, at - EDGE_BEFORE)
    rise = np.diff(level[first : at + EDGE_AFTER])
    if not len(rise):
        return seconds
    return (first + int(rise.argmax()) + 0.5) * round(EDGE_HOP_SECONDS * RATE) / RATE


def _prominence(flux: Floats, hop: int) -> float:
    before, after = flux[max(0, hop - STRIKE_APART) : hop], flux[hop + 1 : hop + 1 + STRIKE_APART]
    return float(flux[hop] - max(before.min(initial=flux[hop]), after.min(initial=flux[hop])))


def _strike(padded: Floats32, seconds: float, low: int, high: int, ringing: Sequence[float]) -> Strike | None:
    """The bar struck at a rise, one that `ringing` (MIDI) names struck again included; None if no bar was."""
    length = fast_length(4 * SPECTRUM)
    window = np.hanning(SPECTRUM).astype(np.float32)
    hz = np.arange(length // 2 + 1) * RATE / length

    def spectrum(at: float) -> Floats:
        start = max(0, int(at * RATE) + SPECTRUM + 8000)
        return np.abs(np.fft.rfft(padded[start : start + SPECTRUM] * window, length)).astype(np.float64)

    before, after = spectrum(seconds - BEFORE_SECONDS), spectrum(seconds + AFTER_SECONDS)
    tail, added = spectrum(seconds + TAIL_SECONDS), np.maximum(0.0, after - before)
    band = (hz > hz_from_midi(low - 0.6)) & (hz < hz_from_midi(high + 0.6))
    place = int(np.argmax(np.where(band, added, 0.0)))
    kept = _kept(after, tail, place)
    weak = added[place] < WEAK_SHARE * max(before[band].max(), after[band].max())
    if weak or not LEAST_KEPT <= kept <= MOST_KEPT or _tonal_db(hz, added, place) < TONAL_DB:
        return _struck_again(seconds, hz, before, added, ringing)
    for ratio in OVERTONES:
        below = band & (np.abs(hz * ratio - hz[place]) < 0.015 * hz[place])
        if below.any() and added[below].max() > OVERTONE_SHARE * added[place]:
            place = int(np.argmax(np.where(below, added, 0.0)))
            break
    left, at, right = (np.log(added[place + step] + 1e-12) for step in (-1, 0, 1))
    shift = 0.5 * (left - right) / (left - 2 * at + right + 1e-12)
    pitch = (place + np.clip(shift, -0.5, 0.5)) * RATE / length
    return Strike(
        seconds=seconds,
        midi=float(midi_from_hz(np.array([pitch]))[0]),
        level_db=float(20 * np.log10(added[place] + 1e-9)),
        kept=kept,
    )


def _kept(after: Floats, tail: Floats, place: int) -> float:
    """What is left of a peak a tenth of a second later."""
    return float(tail[max(0, place - 3) : place + 4].max() / (after[place] + 1e-9))


def _tonal_db(hz: Floats, added: Floats, place: int) -> float:
    """How far a peak stands out of what was added around it, beyond the width of the peak itself."""
    if not place or added[place] <= 0.0:
        return 0.0
    around = (hz > hz[place] / TONAL_REACH) & (hz < hz[place] * TONAL_REACH)
    around &= np.abs(hz - hz[place]) > PEAK_WIDTH * RATE / SPECTRUM
    return float(20 * np.log10(added[place] / (np.mean(added[around]) + 1e-9)))


def _struck_again(
    seconds: float, hz: Floats, before: Floats, added: Floats, ringing: Sequence[float]
) -> Strike | None:
    """A bar that rings already may gain nothing at its pitch; its overtones, long gone, tell of a strike."""
    best: Strike | None = None
    for midi in ringing:
        own = np.abs(hz - hz_from_midi(midi)) < SAME_BAR * hz_from_midi(midi)
        for ratio in OVERTONES[:3]:
            over = np.abs(hz - ratio * hz_from_midi(midi)) < SAME_BAR * ratio * hz_from_midi(midi)
            if not over.any() or not own.any():
                continue
            place = int(np.argmax(np.where(over, added, 0.0)))
            level = float(20 * np.log10(added[place] + 1e-9))
            still = before[own].max() > STILL_RINGING * added[place]
            if still and _tonal_db(hz, added, place) >= TONAL_DB and (best is None or level > best.level_db):
                best = Strike(seconds=seconds, midi=midi, level_db=level, kept=AGAIN_KEPT)
    return best
