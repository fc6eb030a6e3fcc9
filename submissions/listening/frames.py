"""How likely is each semitone in each frame?

Definition: for every 10 ms frame and every semitone around the part, a log-likelihood taken from all the
tracker's candidates (0 for the frame's best pitch, less for weaker ones), weighted by how clearly the
frame sounds; and the log-likelihood that no note sounds.

Assumptions: the student's tuning is constant over the take, so pitch is counted from the student's own
semitones; a confusion with the octave, the twelfth or the double octave is an error of hearing more often
than of playing, so it costs less than another pitch.
"""

from dataclasses import dataclass

import numpy as np

from submissions.listening.tracker import Candidates, Track, best_path, candidates
from submissions.listening.tuning import overall_tuning
from submissions.listening.units import (
    HOP_SECONDS,
    RATE,
    Bools,
    Floats,
    Ints,
    hz_from_midi,
    levels_db,
    midi_from_hz,
)

BELOW_PART, ABOVE_PART = 7, 20
"""Semitones heard around the part: wrong notes below; cracks to the octave and twelfth above."""
LOWEST_HZ, HIGHEST_HZ = 30.0, 5000.0

LEVEL_WINDOW_SECONDS = 0.030
EVIDENCE_PER_FRAME = 0.25
"""Neighbouring frames share three quarters of their samples: a frame is a quarter of an independent one."""
STRENGTH_STEP = 0.05
"""This much less strength than the frame's best pitch is one unit of log-likelihood against."""
IN_TUNE_SEMITONES, OUT_OF_TUNE_COST = 0.30, 0.12
NEIGHBOUR_REACH, NEIGHBOUR_COST = 0.75, 0.02
WORST = -1.0
OCTAVE_KIN = (12, 19, 24)
KIN_WORST = -0.55
UNVOICED = -0.35
SILENCE_IN_SOUND = -1.3
CLOSE = -0.4


@dataclass(frozen=True, slots=True)
class Tracked:
    """What the tracker found, before any tuning is taken out."""

    lowest: int
    highest: int
    candidates: Candidates
    track: Track
    midi: Floats
    """The tracked pitch; NaN where nothing periodic sounds."""
    level_db: Floats
    voiced: Bools
    noise_db: float
    peak_db: float


@dataclass(frozen=True, slots=True)
class Frames:
    lowest: int
    """The semitone of column 0; pitches are counted after `tuning`."""
    likelihood: Floats
    silence: Floats
    close: Bools
    """Frames that hold this pitch about as well as any."""
    midi: Floats
    """The tracked pitch less the tuning; NaN where nothing periodic sounds."""
    voiced: Bools
    strength: Floats
    level_db: Floats
    tuning: float
    """The student's own tuning in semitones."""
    noise_db: float
    peak_db: float

    @property
    def pitches(self) -> Ints:
        """The semitone of every column."""
        return self.lowest + np.arange(self.likelihood.shape[1], dtype=np.int64)


def hear(samples: np.ndarray, *, lowest: int, highest: int) -> Tracked:
    """Track a take between two semitones (plus half a semitone on both sides)."""
    found = candidates(
        samples,
        rate=RATE,
        floor_hz=max(LOWEST_HZ, hz_from_midi(lowest - 0.5)),
        ceiling_hz=min(HIGHEST_HZ, hz_from_midi(highest + 0.5)),
    )
    level = levels_db(samples, hop_seconds=HOP_SECONDS, window_seconds=LEVEL_WINDOW_SECONDS)
    count = min(len(found.hz), len(level))
    found = Candidates(
        found.hz[:count], found.strength[:count], found.preference[:count], found.loudness[:count]
    )
    level = level[:count]
    track = best_path(found)
    tracked = track.hz > 0
    midi = np.where(tracked, midi_from_hz(np.maximum(track.hz, 1.0)), np.nan)
    unclear = track.strength < 0.5
    noise = float(np.median(level[unclear]) if unclear.sum() > 15 else np.percentile(level, 3))
    peak = float(np.percentile(level[tracked], 90) if tracked.sum() > 20 else np.percentile(level, 95))
    gate = max(noise + 6.0, peak - 38.0) if peak - noise > 14.0 else peak - 30.0
    clear = (track.strength > 0.85) & (level > max(noise + 1.0, peak - 45.0))
    return Tracked(
        lowest=lowest,
        highest=highest,
        candidates=found,
        track=track,
        midi=midi,
        level_db=level,
        voiced=tracked & ((level > gate) | clear),
        noise_db=noise,
        peak_db=peak,
    )


def frames(heard: Tracked, *, tuning: float | None = None) -> Frames:
    """Likelihoods of every semitone, counted from the student's own tuning (found when not given)."""
    if tuning is None:
        tuning = overall_tuning(heard.midi, heard.voiced)
    found = heard.candidates
    lowest, width, count = heard.lowest, heard.highest - heard.lowest + 1, len(heard.midi)
    support = np.full((count, width), WORST, np.float32)
    for column in range(found.hz.shape[1]):
        at = np.nonzero(found.hz[:, column] > 0)[0]
        pitch = midi_from_hz(found.hz[at, column]) - tuning - lowest
        nearest = np.round(pitch).astype(int)
        liking = found.preference[at, column]
        for step in (-1, 0, 1):
            place, away = nearest + step, np.abs(pitch - nearest - step)
            inside = (place >= 0) & (place < width) & (away < NEIGHBOUR_REACH)
            value = liking - OUT_OF_TUNE_COST * np.maximum(0.0, away - IN_TUNE_SEMITONES)
            value = value - (NEIGHBOUR_COST if step else 0.0)
            row, col = at[inside], place[inside]
            support[row, col] = np.maximum(support[row, col], value[inside])
    best = support.max(axis=1)
    relative = -np.minimum(1.0, (best[:, None] - support) / STRENGTH_STEP)
    distance = np.abs(np.arange(width)[None] - support.argmax(axis=1)[:, None])
    shaped = np.where(np.isin(distance, OCTAVE_KIN), np.maximum(relative, KIN_WORST), relative)
    voiced = heard.voiced
    weight = np.where(
        voiced,
        np.clip((heard.track.strength - 0.35) / 0.4, 0.3, 1.0)
        * np.clip((heard.level_db - (heard.peak_db - 34.0)) / 14.0, 0.25, 1.0),
        0.0,
    )
    return Frames(
        lowest=lowest,
        likelihood=np.where(voiced[:, None], shaped * weight[:, None], UNVOICED) * EVIDENCE_PER_FRAME,
        silence=np.where(voiced, SILENCE_IN_SOUND * weight, 0.0) * EVIDENCE_PER_FRAME,
        close=voiced[:, None] & (relative > CLOSE),
        midi=heard.midi - tuning,
        voiced=voiced,
        strength=heard.track.strength,
        level_db=heard.level_db,
        tuning=tuning,
        noise_db=heard.noise_db,
        peak_db=heard.peak_db,
    )
