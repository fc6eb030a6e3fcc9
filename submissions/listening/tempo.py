"""How fast, and in which transposition, was the line played?

Definition: the take's tracked notes (runs of one semitone, cut where a repeat is likely) are matched to
the written ones in order at each of a set of tempi and transpositions at once; the cheapest match tells
where to start the full decoder. After decoding, the tempo is the median of seconds per beat between
neighbouring notes.

Assumptions: the tempo lies between 37 and 170 beats a minute and is about constant; the printed tempo,
when there is one, is a leaning, not a rule.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from submissions.listening.boundaries import NO_PITCH, Boundaries
from submissions.listening.units import HOP_SECONDS, Floats, Ints

SECONDS_PER_BEAT = np.geomspace(0.35, 1.6, 13)
FASTEST, SLOWEST = 0.25, 2.2
PRINTED_COST_PER_OCTAVE = 1.0
"""Halving or doubling the printed tempo costs less than one missed note."""

SHORTEST_SECONDS = 0.055
EVENTS_BACK, NOTES_BACK = 3, 2
OMITTED = 1.3
OFF_BEAT_MOST = 1.6
LEAD_ON_PITCH, LEAD_OTHER = 0.5, 0.12
TRAIL_SHARE = 0.8
IMPOSSIBLE = 1e9


@dataclass(frozen=True, slots=True)
class Event:
    """A run of one pitch."""

    onset: float
    end: float
    pitch: int


@dataclass(frozen=True, slots=True)
class Match:
    cost: float
    pairs: tuple[tuple[int, int], ...]
    """(event, note) in order."""
    seconds_per_beat: float
    transposed: int


def events(boundaries: Boundaries) -> list[Event]:
    """Runs of one semitone, cut at boundaries where a repeat is likelier than not."""
    path = boundaries.path
    cuts = set((np.nonzero(np.diff(path))[0] + 1).tolist())
    cuts |= set(boundaries.frame[boundaries.repeat_log_odds > 0].tolist())
    edges = sorted({0, len(path), *cuts})
    found: list[Event] = []
    for start, end in pairwise(edges):
        pitch = int(path[start]) if start < len(path) else NO_PITCH
        if pitch != NO_PITCH and (end - start) * HOP_SECONDS >= SHORTEST_SECONDS:
            found.append(Event(start * HOP_SECONDS, end * HOP_SECONDS, pitch))
    return found


def match(
    heard: Sequence[Event],
    *,
    pitches: Sequence[int],
    beats: Sequence[float],
    printed_bpm: float | None,
    seconds_per_beat: Floats | None = None,
    transpositions: Sequence[int] = (0,),
) -> list[Match]:
    """The match at each transposition's best tempo, cheapest first; empty without events."""
    if not heard:
        return []
    grid = SECONDS_PER_BEAT if seconds_per_beat is None else seconds_per_beat
    tempo = np.tile(grid, len(transpositions))
    shift = np.repeat(np.array(transpositions, dtype=np.int64), len(grid))
    costs, back = _costs(heard, np.array(pitches), np.array(beats), tempo, shift)
    if printed_bpm:
        leaning = np.abs(np.log2(tempo * printed_bpm / 60.0))
        costs = costs + PRINTED_COST_PER_OCTAVE * np.minimum(leaning, 1.0)[:, None, None]
    best: dict[int, Match] = {}
    flat = costs.reshape(len(tempo), -1)
    for row in np.argsort(flat.min(axis=1)):
        key = int(shift[row])
        if key not in best:
            event, note = divmod(int(flat[row].argmin()), len(pitches))
            pairs = _trace(back[row], event, note)
            best[key] = Match(
                cost=float(flat[row].min()),
                pairs=pairs,
                seconds_per_beat=_refined(heard, pairs, np.array(beats), float(tempo[row])),
                transposed=key,
            )
    return sorted(best.values(), key=lambda found: found.cost)


def median_tempo(onsets: Sequence[float], beats: Sequence[float]) -> float | None:
    """Median seconds per beat between neighbouring notes that go forward; None under three of them."""
    ratios = [
        (after - before) / (later - earlier)
        for before, after, earlier, later in zip(onsets, onsets[1:], beats, beats[1:], strict=False)
        if later > earlier
    ]
    if len(ratios) < 3:
        return None
    return float(np.clip(np.median(ratios), FASTEST, SLOWEST))


def _pitch_cost(away: Ints) -> Floats:
    away = np.abs(away)
    other = np.where(np.isin(away, (2, 7, 12, 19, 24)), 1.0, np.where(away <= 4, 1.2, 1.5))
    return np.where(away == 0, 0.0, np.where(away == 1, 0.8, other))


def _costs(
    heard: Sequence[Event], pitches: Ints, beats: Floats, tempo: Floats, shift: Ints
) -> tuple[Floats, Ints]:
    """[hypothesis, event, note]: cost of the best match that ends here, and where it came from."""
    count, notes, hypotheses = len(heard), len(pitches), len(tempo)
    onset = np.array([event.onset for event in heard])
    held = np.array([event.end - event.onset for event in heard])
    pitch = np.array([event.pitch for event in heard])
    share = np.minimum(1.0, held[None] / tempo[:, None])
    skip = 0.25 + 0.6 * share * np.where(held > 0.12, 1.0, 0.4)[None]
    skipped = np.concatenate([np.zeros((hypotheses, 1)), np.cumsum(skip, axis=1)], axis=1)
    on_pitch = np.stack([np.isin(pitch - step, pitches) for step in shift])
    lead_cost = np.where(on_pitch & (share > 0.15), LEAD_ON_PITCH, LEAD_OTHER)
    lead = np.concatenate([np.zeros((hypotheses, 1)), np.cumsum(lead_cost, axis=1)], axis=1)
    cost = np.full((hypotheses, count, notes), IMPOSSIBLE)
    back = np.full((hypotheses, count, notes), -1, dtype=np.int64)
    omitted_first = OMITTED * np.arange(notes)
    for event in range(count):
        here = lead[:, event, None] + omitted_first[None]
        came = np.full((hypotheses, notes), -1, dtype=np.int64)
        for earlier in range(max(0, event - EVENTS_BACK), event):
            between = skipped[:, event] - skipped[:, earlier + 1]
            apart = (onset[event] - onset[earlier]) / tempo
            for step in range(1, min(NOTES_BACK, notes - 1) + 1):
                written = beats[step:] - beats[:-step]
                off = np.minimum(np.abs(apart[:, None] - written[None]), OFF_BEAT_MOST)
                total = cost[:, earlier, :-step] + (between + OMITTED * (step - 1))[:, None] + off
                better = total < here[:, step:]
                here[:, step:] = np.where(better, total, here[:, step:])
                source = earlier * notes + np.arange(notes - step)
                came[:, step:] = np.where(better, source[None], came[:, step:])
        cost[:, event] = here + _pitch_cost(pitch[event] - pitches[None] - shift[:, None])
        back[:, event] = came
    omitted_last = OMITTED * (notes - 1 - np.arange(notes))
    trail = TRAIL_SHARE * (lead[:, -1:] - lead[:, 1:])
    return cost + omitted_last[None, None] + trail[:, :, None], back


def _trace(back: Ints, event: int, note: int) -> tuple[tuple[int, int], ...]:
    pairs = [(event, note)]
    notes = back.shape[1]
    while back[event, note] >= 0:
        event, note = divmod(int(back[event, note]), notes)
        pairs.append((event, note))
    return tuple(reversed(pairs))


def _refined(
    heard: Sequence[Event], pairs: tuple[tuple[int, int], ...], beats: Floats, start: float
) -> float:
    ratios = [
        (heard[later].onset - heard[earlier].onset) / float(beats[after] - beats[before])
        for (earlier, before), (later, after) in pairwise(pairs)
    ]
    if len(ratios) < 2:
        return start
    return float(np.clip(np.median(ratios), FASTEST, SLOWEST))
