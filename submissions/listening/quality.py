"""Can this recording be heard at all, and does anybody play in it?

Definition: clipped, very quiet or noisy sound, from the samples and the levels; and, from the tracked
pitch, whether it is held. A stretch of 200 ms whose pitch stays within half a semitone is held. Of a
player's voiced sound nearly all is held (simulated beginners at their worst: 0.85), of speech little
(recorded voices: at most 0.16; a synthesiser that drones its vowels: 0.57); clicks and noise have no pitch.

Assumptions: notes last 200 ms or more. A take of very short notes is not held either, so the caller keeps
it when its notes fit the part.
"""

import numpy as np

from submissions.listening.clean import HUM_HARMONICS, MAINS_HZ
from submissions.listening.evidence import Quality
from submissions.listening.frames import Tracked
from submissions.listening.units import HOP_SECONDS, Bools, Floats, Floats32, midi_from_hz

FULL_SCALE = 0.97
CLIPPED_SHARE = 0.0005
"""A take set to its full scale touches it a few times; a clipped one stays there at every loud moment."""
QUIET_DB = -50.0
SILENT_DB = -75.0
NOISY_DB = 14.0
"""Less than this between the playing and the noise."""

HELD_FRAMES = 20
HELD_SEMITONES = 0.5
HELD_STRENGTH = 0.70
LEAST_HELD_SHARE = 0.65
LEAST_HELD_SECONDS = 0.4

HUM_SEMITONES, HUM_SHARE = 1.0, 0.9
"""A take whose held pitch stays this near to one line of the mains for this share of its time is hum."""

SPEECH_VOICED_SHARE = 0.15
CLICK_OVER_NOISE_DB = 25.0
"""A click stands this far over the median level."""


def sound_quality(samples: Floats32) -> list[Quality]:
    """What the samples alone show: clipped, very quiet, silent."""
    # A steady offset of the microphone is no sound.
    loud = 10 * np.log10(float(samples.var(dtype=np.float64)) + 1e-15) if len(samples) else -np.inf
    if loud < SILENT_DB:
        return [Quality.SILENT]
    found = []
    if float((np.abs(samples) >= FULL_SCALE).mean()) > CLIPPED_SHARE:
        found.append(Quality.CLIPPED)
    if loud < QUIET_DB:
        found.append(Quality.QUIET)
    return found


def held_frames(heard: Tracked) -> Bools:
    """Frames inside stretches of HELD_FRAMES that are clearly periodic and keep their pitch."""
    clear = heard.voiced & (heard.track.strength > HELD_STRENGTH)
    held = np.zeros(len(clear), dtype=np.bool_)
    if len(clear) < HELD_FRAMES:
        return held
    windows = np.lib.stride_tricks.sliding_window_view(np.where(clear, heard.midi, np.nan), HELD_FRAMES)
    # A NaN anywhere makes both extremes NaN, and the comparison False.
    starts = np.flatnonzero(windows.max(axis=1) - windows.min(axis=1) < HELD_SEMITONES)
    for step in range(HELD_FRAMES):
        held[starts + step] = True
    return held


def _is_hum(held_midi: Floats) -> bool:
    """Whether all that is held is one line of mains hum, filtered as it may be."""
    lines = midi_from_hz(np.array([mains * n for mains in MAINS_HZ for n in HUM_HARMONICS]))
    near = np.abs(held_midi[:, None] - lines[None]) < HUM_SEMITONES
    return bool(near.mean(axis=0).max() > HUM_SHARE)


def has_player(heard: Tracked) -> bool:
    """Whether the take's pitch is held as a player's is."""
    frames = held_frames(heard)
    held = int(frames.sum())
    if held and _is_hum(heard.midi[frames]):
        return False
    return held * HOP_SECONDS >= LEAST_HELD_SECONDS and held >= LEAST_HELD_SHARE * int(heard.voiced.sum())


def sounds_instead(heard: Tracked) -> list[Quality]:
    """What fills a take in which nobody plays: speech, clicks, or neither."""
    if heard.voiced.mean() > SPEECH_VOICED_SHARE:
        return [Quality.ONLY_SPEECH]
    if heard.level_db.max() - np.median(heard.level_db) > CLICK_OVER_NOISE_DB:
        return [Quality.ONLY_CLICKS]
    return []


def is_noisy(heard: Tracked) -> bool:
    return heard.peak_db - heard.noise_db < NOISY_DB
