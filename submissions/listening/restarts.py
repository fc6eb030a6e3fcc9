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
LEAD_LONGEST_NOTES = 8
RIGHT_PITCH, SLIP, WRONG_PITCH = 2.5, -1.5, -3.0
"""Log-odds. By chance one in twelve; in a true start nine in ten, and a given-up one has its slips."""
SLIP_SEMITONES = 4
IN_TIME, NEARLY_IN_TIME, OUT_OF_TIME = 2.0, 1.0, -1.0
IN_TIME_BEATS, NEARLY_IN_TIME_BEATS = 0.1, 0.25
STARTED_ABOVE = 2.9
SHORTEST_SHARE = 0.4
"""A sound shorter than this share of a written note's time is none of the notes of a start."""


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


def given_up(notes: Sequence[int]) -> list[tuple[int, int]]:
    """(first, restart) places between which what was played was played again later, and is not judged."""
    spans = []
    for resumed in restart_places(notes):
        first = next(place for place, note in enumerate(notes) if note >= notes[resumed])
        spans.append((first, resumed))
    return spans


def attempts(placed: Sequence[Placed]) -> list[tuple[int, int]]:
    """(first, last) places of every attempt but the last."""
    edges = [0, *restart_places([item.note for item in placed]), len(placed)]
    return [(start, end - 1) for start, end in pairwise(edges)][:-1]


def false_start(
    before: Sequence[Event], *, pitches: Sequence[int], beats: Sequence[float], seconds_per_beat: float
) -> bool:
    """Whether the sound before the first placed note was the line's own opening, given up.

    From some held sound on, every further one is set against the next written note: right pitch and right
    time speak for a start, wrong ones against. A single note proves nothing: it may be a tuning note.
    """
    least = LEAD_SHORTEST_SECONDS
    if len(beats) > 1:
        least = max(least, SHORTEST_SHARE * (beats[1] - beats[0]) * seconds_per_beat)
    held = [event for event in before if event.end - event.onset > least]
    for first in range(len(held) - 1):
        run = held[first : first + min(LEAD_LONGEST_NOTES, len(pitches))]
        odds = _pitch_odds(run[0].pitch - pitches[0])
        for place in range(1, len(run)):
            expected = (beats[place] - beats[0]) * seconds_per_beat
            off = abs(run[place].onset - run[0].onset - expected) / seconds_per_beat
            odds += _pitch_odds(run[place].pitch - pitches[place])
            if off < NEARLY_IN_TIME_BEATS:
                odds += IN_TIME if off < IN_TIME_BEATS else NEARLY_IN_TIME
            else:
                odds += OUT_OF_TIME
            if odds > STARTED_ABOVE:
                return True
    return False


def _pitch_odds(semitones: int) -> float:
    if semitones == 0:
        return RIGHT_PITCH
    return SLIP if abs(semitones) <= SLIP_SEMITONES else WRONG_PITCH
