"""Where did the recorder put its marker?

The recorder mixes a short rising tone into the recording alone, never into the loudspeaker, and knows by
the audio clock how long after it beat 1 comes. Here it is found again by normalised correlation within
its own band, so that low notes of an instrument count for little: the value is 1 for the tone alone and
about s / √(s² + n²) where other sound of strength n in that band covers a marker of strength s.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from submissions.preparing.reading import Block

# The tone as the recorder makes it: 40 ms, rising from 1.5 to 6 kHz, swelling and fading as half a sine.
SECONDS = 0.040
FROM_HZ, TO_HZ = 1500.0, 6000.0
# It stands before the count-off; nobody searches a whole lesson for it.
SEARCHED_SECONDS = 60.0
# Noise gives 0.05 on average (368 free values in 40 ms of this band), whistles and sweeps up to about 0.3.
FOUND_AT = 0.45
BLOCK_SECONDS = 4.0
# Below this level, full scale at 1, correlation would only measure rounding.
FLOOR = 1e-4


def marker(rate: int) -> NDArray[np.float64]:
    """The tone at `rate` samples a second, at full level."""
    t = np.arange(round(SECONDS * rate)) / rate
    sweep = FROM_HZ * t + 0.5 * (TO_HZ - FROM_HZ) / SECONDS * t * t
    return np.sin(2 * np.pi * sweep) * np.sin(np.pi * t / SECONDS)


@dataclass(slots=True)
class Beginning:
    """Feed it blocks in order; it keeps the first minute, mixed to one channel."""

    rate: int = 0
    _parts: list[tuple[int, NDArray[np.float32]]] = field(default_factory=list)

    def add(self, block: Block) -> None:
        self.rate = block.rate
        if block.start < SEARCHED_SECONDS * block.rate:
            self._parts.append((block.start, block.samples.mean(axis=0, dtype=np.float32)))

    def sound(self) -> NDArray[np.float32]:
        """One channel on the file's own time line, holes silent."""
        end = max((start + part.size for start, part in self._parts), default=0)
        sound = np.zeros(end, np.float32)
        for start, part in self._parts:
            sound[start : start + part.size] = part
        return sound


def find_marker(sound: NDArray[np.float32], *, rate: int) -> float | None:
    """Seconds from the start of `sound` to the start of the marker, None where there is none.

    Exact to a fraction of a sample. None as well where `rate` is too low to hold the tone (telephone
    sound of 8 kHz).
    """
    if rate < 2 * TO_HZ:
        return None
    tone = marker(rate)
    if sound.size < tone.size:
        return None
    block = round(BLOCK_SECONDS * rate)
    best, place = 0.0, 0.0
    for start in range(0, sound.size - tone.size + 1, block):
        piece = sound[start : start + block + tone.size - 1]
        likeness = _likeness(piece, tone, rate)
        top = int(np.argmax(likeness))
        if likeness[top] > best:
            best = float(likeness[top])
            place = start + top + _between(likeness, top)
    return max(0.0, place / rate) if best >= FOUND_AT else None


def _likeness(sound: NDArray[np.float32], tone: NDArray[np.float64], rate: int) -> NDArray[np.float64]:
    """Normalised correlation of `tone` with every stretch of `sound` that holds it whole."""
    size = 1 << (sound.size + tone.size - 1).bit_length()
    spectrum = np.fft.rfft(sound, size)
    hertz = np.fft.rfftfreq(size, 1 / rate)
    spectrum[(hertz < FROM_HZ) | (hertz > TO_HZ)] = 0
    in_band = np.fft.irfft(spectrum, size)[: sound.size]
    shape = np.fft.rfft(tone, size)
    shape[(hertz < FROM_HZ) | (hertz > TO_HZ)] = 0
    strength = np.sqrt(np.sum(np.fft.irfft(shape, size) ** 2))
    places = sound.size - tone.size + 1
    product = np.fft.irfft(spectrum * np.conj(shape), size)[:places]
    energy = np.concatenate(([0.0], np.cumsum(in_band**2)))
    around = np.sqrt(np.maximum(energy[tone.size :][:places] - energy[:places], 0))
    return np.asarray(product / (strength * np.maximum(around, FLOOR * np.sqrt(tone.size))))


def _between(values: NDArray[np.float64], top: int) -> float:
    """Where between samples the peak stands, from -0.5 to 0.5, by a parabola through three values."""
    if not 0 < top < values.size - 1:
        return 0.0
    left, middle, right = (float(v) for v in values[top - 1 : top + 2])
    bend = left - 2 * middle + right
    return 0.5 * (left - right) / bend if bend < 0 else 0.0
