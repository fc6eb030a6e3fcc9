"""Which sounds beside the written notes are extra notes?

Definition: a span that the path gave to no written note is an extra note where it is long, clear, loud and
level enough to be called one, and where no attempt that was given up contains it.

Assumptions: squeaks, breath and the room are shorter, softer or wander more than a note.
"""

import numpy as np

from submissions.listening.boundaries import Boundaries
from submissions.listening.decoder import ExtraSpan
from submissions.listening.envelopes import Envelopes
from submissions.listening.evidence import Extra
from submissions.listening.frames import Frames
from submissions.listening.hypothesis import Hypothesis
from submissions.listening.restarts import given_up
from submissions.listening.sounds import NEAR_PITCH, onset_of
from submissions.listening.units import HOP_SECONDS, Floats32

SHORTEST_SECONDS = 0.11
CLEAR_SHARE, LEAST_STRENGTH, MOST_WANDER = 0.5, 0.72, 0.45
UNDER_LOUDEST_DB = 15.0


def extras(hypothesis: Hypothesis, samples: Floats32, levels: Envelopes) -> list[Extra]:
    """Extra notes of what is judged: those of an attempt that was given up went with it."""
    counted, cut = hypothesis.frames, hypothesis.boundaries
    placed = hypothesis.decoding.placed
    loudest = np.median([counted.level_db[cut.frame[i.start] : cut.frame[i.end]].max() for i in placed])
    gone = [(placed[a].start, placed[b].start) for a, b in given_up([item.note for item in placed])]
    return [
        Extra(
            midi=extra.pitch,
            onset_seconds=onset_of(extra, hypothesis, samples, levels),
            held_seconds=float(cut.frame[extra.end] - cut.frame[extra.start]) * HOP_SECONDS,
        )
        for extra in hypothesis.decoding.extra_spans
        if not any(first <= extra.start < resumed for first, resumed in gone)
        and _is_note(extra, counted, cut, float(loudest))
    ]


def _is_note(extra: ExtraSpan, counted: Frames, cut: Boundaries, loudest_db: float) -> bool:
    """Whether an extra sound is clear, loud and level enough to be called a note."""
    start, end = int(cut.frame[extra.start]), int(cut.frame[extra.end])
    if (end - start) * HOP_SECONDS < SHORTEST_SECONDS:
        return False
    midi = counted.midi[start:end]
    near = np.abs(midi - extra.pitch) < NEAR_PITCH
    return bool(
        near.mean() >= CLEAR_SHARE
        and counted.level_db[start:end].max() >= loudest_db - UNDER_LOUDEST_DB
        and np.median(counted.strength[start:end][near]) >= LEAST_STRENGTH
        and np.std(midi[near]) <= MOST_WANDER
    )
