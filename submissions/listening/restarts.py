"""Which attempt is the one that counts?

Definition: when the line was begun again, from its start or from a barline, the last time each note was
played is judged. Notes after the place of the restart that only the earlier attempt reached are not
credited from it: the last attempt jumped past them or stopped. Earlier attempts stay visible.

Assumptions: the decoder's path is in order of time; a note index that does not rise is a restart.
"""

from collections.abc import Sequence
from itertools import pairwise

from submissions.listening.decoder import Placed
from submissions.listening.tempo import Event

LEAD_SHORTEST_SECONDS = 0.15
LEAD_AGREEMENT = 0.75
LEAD_LONGEST_NOTES = 8


def restart_places(notes: Sequence[int]) -> list[int]:
    """Indices into a path of note numbers at which it goes back or repeats."""
    return [place for place in range(1, len(notes)) if notes[place] <= notes[place - 1]]


def last_attempt(notes: Sequence[int]) -> dict[int, int]:
    """For each judged note, its place in the path."""
    last = {note: place for place, note in enumerate(notes)}
    restarts = restart_places(notes)
    if not restarts:
        return last
    resumed = restarts[-1]
    return {note: place for note, place in last.items() if note < notes[resumed] or place >= resumed}


def attempts(placed: Sequence[Placed]) -> list[tuple[int, int]]:
    """(first, last) places of every attempt but the last."""
    edges = [0, *restart_places([item.note for item in placed]), len(placed)]
    return [(start, end - 1) for start, end in pairwise(edges)][:-1]


def false_start(before: Sequence[Event], pitches: Sequence[int]) -> bool:
    """Whether the sound before the first placed note was the line's own opening.

    A single note proves nothing (a tuning note, a blown warm-up); two in the line's order do.
    """
    run = [event.pitch for event in before if event.end - event.onset > LEAD_SHORTEST_SECONDS]
    for first in range(len(run) - 1):
        heard = run[first : first + LEAD_LONGEST_NOTES]
        written = list(pitches[: len(heard)])
        if len(heard) < 2 or len(written) < len(heard):
            continue
        agree = sum(a == b for a, b in zip(heard, written, strict=True))
        if agree >= LEAD_AGREEMENT * len(heard):
            return True
    return False
