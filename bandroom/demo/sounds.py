"""Takes that no child played: a part sounded with plain harmonics, with slips where the demo wants them."""

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import av
import numpy as np
from numpy.typing import NDArray

from exercises.music.part import Part

RATE = 24_000
SEED_ROOM = 20_261_124
ATTACK_SECONDS, RELEASE_SECONDS = 0.035, 0.06
BREATH_SECONDS = 0.05
ROOM_NOISE = 0.0008
LEVEL = 0.28
# Strengths of the partials: they only make the sections sound unlike each other.
PARTIALS = {
    "flute": (1, 0.3, 0.1, 0.04),
    "clarinet": (1, 0.06, 0.55, 0.05, 0.25, 0.03, 0.1),
    "woodwind": (1, 0.7, 0.5, 0.35, 0.2, 0.12),
    "brass": (1, 0.85, 0.65, 0.45, 0.3, 0.2, 0.12),
}
# A struck bar: ratio to its pitch, strength, fading per second. The ratios are those of a bar free at both
# ends (Euler and Bernoulli's beam): 1, 2.756, 5.404.
BAR = ((1.0, 1.0, 2.2), (2.756, 0.35, 9.0), (5.404, 0.12, 25.0))
STRUCK = "percussion"
STRIKE_SECONDS = 0.002


@dataclass(frozen=True, slots=True)
class Slips:
    """What goes wrong, by note index of the line."""

    other_pitch: Mapping[int, int] = field(default_factory=dict)  # semitones from the written pitch
    late: Mapping[int, float] = field(default_factory=dict)  # beats
    left_out: frozenset[int] = frozenset()
    stops_before: int | None = None


@dataclass(frozen=True, slots=True)
class PlayedTone:
    midi: int
    start: float  # seconds
    seconds: float


def tones(*, part: Part, tempo: int, slips: Slips) -> list[PlayedTone]:
    """The sounded notes of a part, a bar of count-off before the first; tied notes are one tone."""
    beat = 60 / tempo
    at = float(part.line.metre.beats) * beat
    played: list[PlayedTone] = []
    held = False
    for index, (note, midi) in enumerate(zip(part.line.notes, part.sounding_midi(), strict=True)):
        if slips.stops_before is not None and index >= slips.stops_before:
            break
        seconds = float(note.beats) * beat
        if midi is not None and index not in slips.left_out:
            if held and played:
                played[-1] = PlayedTone(played[-1].midi, played[-1].start, played[-1].seconds + seconds)
            else:
                late = slips.late.get(index, 0.0) * beat
                played.append(PlayedTone(midi + slips.other_pitch.get(index, 0), at + late, seconds - late))
        held = note.tied
        at += seconds
    return played


def sound(
    *, takes: Sequence[Sequence[PlayedTone]], timbre: str, cents: float, gap: float = 0.0
) -> NDArray[np.float64]:
    """One channel at 24 kHz, values from -1 to 1; several lines stand one after the other."""
    pieces = [_line(line, timbre=timbre, cents=cents) for line in takes]
    silence = np.zeros(int(gap * RATE))
    joined = np.concatenate([part for piece in pieces for part in (piece, silence)])
    noise = np.random.default_rng(SEED_ROOM).normal(0, ROOM_NOISE, joined.size)
    return np.clip(joined + noise, -1, 1)


def _line(line: Sequence[PlayedTone], *, timbre: str, cents: float) -> NDArray[np.float64]:
    end = max((tone.start + tone.seconds for tone in line), default=0.5)
    out = np.zeros(int((end + 0.3) * RATE))
    for tone in line:
        seconds = max(0.12, tone.seconds - BREATH_SECONDS)
        t = np.arange(int(seconds * RATE)) / RATE
        hz = 440.0 * 2 ** ((tone.midi - 69 + cents / 100) / 12)
        wave = _struck(hz, t) if timbre == STRUCK else _blown(hz, t, seconds=seconds, timbre=timbre)
        start = int(tone.start * RATE)
        out[start : start + t.size] += LEVEL * wave
    return out


def _struck(hz: float, t: NDArray[np.float64]) -> NDArray[np.float64]:
    partials = [(ratio, strength, fading) for ratio, strength, fading in BAR if hz * ratio < RATE / 2]
    wave = sum(
        strength * np.exp(-fading * t) * np.sin(2 * np.pi * hz * ratio * t)
        for ratio, strength, fading in partials
    )
    return np.asarray(wave * np.minimum(1, t / STRIKE_SECONDS))


def _blown(hz: float, t: NDArray[np.float64], *, seconds: float, timbre: str) -> NDArray[np.float64]:
    partials = PARTIALS[timbre]
    wave = sum(
        strength * np.sin(2 * np.pi * hz * n * t)
        for n, strength in enumerate(partials, start=1)
        if hz * n < RATE / 2
    )
    rise = np.minimum(1, t / ATTACK_SECONDS) * np.minimum(1, (seconds - t) / RELEASE_SECONDS)
    return np.asarray(wave * rise * (1 - 0.25 * t / seconds) / sum(partials))


def encode(samples: NDArray[np.float64]) -> bytes:
    """WebM with Opus, as a browser's recorder makes it."""
    buffer = io.BytesIO()
    with av.open(buffer, "w", format="webm") as container:
        stream = container.add_stream("libopus", rate=RATE, layout="mono")
        stream.bit_rate = 48_000
        frame = av.AudioFrame.from_ndarray(
            (samples * 32767).astype(np.int16).reshape(1, -1), format="s16", layout="mono"
        )
        frame.sample_rate = RATE
        for packet in (*stream.encode(frame), *stream.encode(None)):
            container.mux(packet)
    return buffer.getvalue()
