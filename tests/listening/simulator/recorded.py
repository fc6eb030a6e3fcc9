"""Tones become sound from recorded single notes of real instruments.

Each keeps its own attack, breath, vibrato and wavering; what lies between the recorded pitches is played
faster or slower, by FARTHEST_SEMITONES at most but for slips of an octave.
"""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from scipy.signal import resample_poly

from tests.listening.simulator.player import Tone
from tests.listening.simulator.recordings import (
    FOLDER,
    PITCH_STEP_SECONDS,
    RATE,
    Recording,
    recordings,
)

PLAYED_BY = {
    "flute": "flute",
    "clarinet": "clarinet",
    "bassoon": "bassoon",
    "alto_sax": "saxophone",
    "tenor_sax": "saxophone",
    "trumpet": "trumpet",
    "horn": "french-horn",
    "trombone": "trombone",
    "baritone_bc": "trombone",
    "tuba": "tuba",
}
"""The part's instrument, and whose recordings stand for it."""
FARTHEST_SEMITONES, SECOND_NEAREST_SEMITONES = 6.5, 4.5
"""A crack that would lie farther does not happen; the second nearest recording only plays so far."""
CRACK_SECONDS = 0.08
SCOOP_SECONDS = 0.15


def render(
    rng: np.random.Generator, tones: Sequence[Tone], *, instrument: str, seconds: float, folder: Path = FOLDER
) -> tuple[np.ndarray, dict[float, float], dict[float, float]]:
    """(one channel at RATE, when each tone is heard to begin, the fractional MIDI it then sounds).

    Both are by the tone's own onset, which is where it is placed to become audible. A soft tone follows the
    one before with no gap: the old sound goes on until the new one has set in. A slurred one starts inside
    its held sound.
    """
    library = recordings(PLAYED_BY[instrument], folder)
    out = np.zeros(int((seconds + 1.0) * RATE))
    begins, sounding = {}, {}
    for place, tone in enumerate(tones):
        after = tones[place + 1] if place + 1 < len(tones) else None
        joined = place > 0 and tone.onset - tones[place - 1].end < 0.012
        goes_on = after is not None and after.onset - tone.end < 0.012
        sound, lead, found = _tone(rng, tone, library, slurred=joined and not tone.soft, goes_on=goes_on)
        first = round((tone.onset - lead) * RATE)
        sound = sound[max(0, -first) :]
        first = max(0, first)
        sound = sound[: len(out) - first]
        out[first : first + len(sound)] += sound
        begins[tone.onset] = tone.onset
        sounding[tone.onset] = found
    out = out[: int(seconds * RATE)]
    return out / (np.abs(out).max() + 1e-9) * 0.5, begins, sounding


def _tone(
    rng: np.random.Generator, tone: Tone, library: Sequence[Recording], *, slurred: bool, goes_on: bool
) -> tuple[np.ndarray, float, float]:
    """(sound, seconds of it before the audible onset, fractional MIDI it sounds)."""
    if tone.crack:
        return _cracked(rng, tone, library, goes_on=goes_on)
    near = sorted(library, key=lambda recording: abs(recording.midi - tone.midi))
    chosen = near[int(rng.integers(0, 2))]
    if abs(chosen.midi - tone.midi) > SECOND_NEAREST_SEMITONES:
        chosen = near[0]
    faster = 2 ** ((tone.midi - chosen.midi) / 12)
    held = tone.end - tone.onset
    fade = float(rng.uniform(0.02, 0.05)) if goes_on else float(rng.uniform(0.03, 0.09))
    skip = float(rng.uniform(0.25, 0.5)) if slurred else 0.0  # into the held sound: no new attack
    start = max(0.0, chosen.onset - 0.15) if not slurred else chosen.onset + skip
    stop = min(chosen.end, chosen.onset + skip + (held + fade) * faster)
    source = chosen.samples[int(start * RATE) : int(stop * RATE)]
    sound = _scooped(source, faster, tone.scoop) if tone.scoop else _played_at(source, faster)
    lead = (chosen.onset - start) / faster if not slurred else 0.010
    rise = int((0.020 if slurred else 0.004) * RATE)
    sound[:rise] *= np.linspace(0, 1, rise)
    fall = min(len(sound), int(fade * RATE))
    sound[len(sound) - fall :] *= np.cos(np.linspace(0, np.pi / 2, fall)) ** 2
    level = np.sqrt(np.mean(sound[int(lead * RATE) :] ** 2) + 1e-12)
    sound *= 0.1 / level * 10 ** ((tone.velocity - 90) / 20 * 0.25)
    first = int(skip / PITCH_STEP_SECONDS)
    track = chosen.pitch[first : first + max(3, int(held * faster / PITCH_STEP_SECONDS))]
    middle = track[int(0.2 * len(track)) : max(int(0.2 * len(track)) + 3, int(0.85 * len(track)))]
    own = float(np.nanmedian(middle)) if np.isfinite(middle).any() else chosen.midi
    return sound, lead, own + tone.midi - chosen.midi


def _cracked(
    rng: np.random.Generator, tone: Tone, library: Sequence[Recording], *, goes_on: bool
) -> tuple[np.ndarray, float, float]:
    """The note speaks a fifth or an octave too high at first."""
    early = Tone(tone.onset, tone.onset + CRACK_SECONDS, tone.midi + tone.crack, tone.velocity)
    if not any(abs(one.midi - early.midi) <= FARTHEST_SEMITONES for one in library):
        early.midi = tone.midi
    late = Tone(tone.onset + CRACK_SECONDS, tone.end, tone.midi, tone.velocity)
    first, lead, _ = _tone(rng, early, library, slurred=False, goes_on=True)
    second, second_lead, sounding = _tone(rng, late, library, slurred=True, goes_on=goes_on)
    at = round((lead + CRACK_SECONDS - second_lead) * RATE)
    out = np.zeros(max(len(first), at + len(second)))
    out[: len(first)] += first
    out[at : at + len(second)] += second
    return out, lead, sounding


def _played_at(source: np.ndarray, faster: float) -> np.ndarray:
    return resample_poly(source, 1000, round(1000 * faster))


def _scooped(source: np.ndarray, faster: float, semitones: float) -> np.ndarray:
    """Below the pitch at first, and up to it."""
    speed = np.full(int(len(source) / faster), faster)
    rising = min(len(speed), int(SCOOP_SECONDS * RATE))
    speed[:rising] *= 2 ** (-semitones * np.linspace(1, 0, rising) / 12)
    return np.interp(np.cumsum(speed), np.arange(len(source)), source)
