"""Which stray sounds are notes too many?

Definition: a span that the path gave to no written note is an extra note where it is long, clear, loud and
level enough to be called one, and where no attempt that was given up contains it.

Assumptions: squeaks, breath and the room are shorter, softer or wander more than a note.
"""

import numpy as np

from submissions.listening.boundaries import Boundaries
from submissions.listening.decoder import Stray
from submissions.listening.envelopes import Envelopes
from submissions.listening.evidence import Extra
from submissions.listening.frames import Frames
from submissions.listening.restarts import given_up
from submissions.listening.sounds import NEAR_PITCH, onset_of
from submissions.listening.story import Story
from submissions.listening.units import HOP_SECONDS, Floats32

SHORTEST_SECONDS = 0.11
CLEAR_SHARE, LEAST_STRENGTH, MOST_WANDER = 0.5, 0.72, 0.45
UNDER_LOUDEST_DB = 15.0


def extras(story: Story, samples: Floats32, levels: Envelopes) -> list[Extra]:
    """Notes too many of what is judged: those of an attempt that was given up went with it."""
    counted, cut = story.frames, story.boundaries
    placed = story.decoding.placed
    loudest = np.median([counted.level_db[cut.frame[i.start] : cut.frame[i.end]].max() for i in placed])
    gone = [(placed[a].start, placed[b].start) for a, b in given_up([item.note for item in placed])]
    return [
        Extra(
            midi=stray.pitch,
            onset_seconds=onset_of(stray, story, samples, levels),
            held_seconds=float(cut.frame[stray.end] - cut.frame[stray.start]) * HOP_SECONDS,
        )
        for stray in story.decoding.strays
        if not any(first <= stray.start < resumed for first, resumed in gone)
        and _is_note(stray, counted, cut, float(loudest))
    ]


def _is_note(stray: Stray, counted: Frames, cut: Boundaries, loudest_db: float) -> bool:
    """Whether a stray sound is clear, loud and level enough to be called a note."""
    start, end = int(cut.frame[stray.start]), int(cut.frame[stray.end])
    if (end - start) * HOP_SECONDS < SHORTEST_SECONDS:
        return False
    midi = counted.midi[start:end]
    near = np.abs(midi - stray.pitch) < NEAR_PITCH
    return bool(
        near.mean() >= CLEAR_SHARE
        and counted.level_db[start:end].max() >= loudest_db - UNDER_LOUDEST_DB
        and np.median(counted.strength[start:end][near]) >= LEAST_STRENGTH
        and np.std(midi[near]) <= MOST_WANDER
    )
