"""Which stretch of sound is which written note?

Definition: one path through the whole take that gives every span of the lattice to a written note (at its
own pitch or another), to an extra note, or to silence, so that the sum of log-likelihoods is greatest: what
the spans are worth, how far each note stands from its beat, and fixed prices for an omitted note and a fresh
start. It is a semi-Markov decoder: spans, not frames, are its steps.

Assumptions: notes come in the written order, but for restarts, which go back to the line's first notes
or to a barline; at most four notes are skipped at once; no note and its following rest last over seven
seconds, in which a held sound or a silence without any boundary counts two at most, so that a student may
stop and think.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from submissions.listening.lattice import IMPOSSIBLE, OMITTED, Lattice
from submissions.listening.units import Bools, Floats, Ints

LONGEST_SECONDS = 7.0
MOST_SKIPPED = 4

OMITTED_AT_EDGE = 0.9 * OMITTED
OFF_CLOCK, CLOCK_BEATS, CLOCK_SHARE = 1.2, 0.16, 0.05
"""Price of leaving the beat, half of it due at this distance from where the note before puts a note (in
beats, and a share of the written distance since the tempo drifts)."""
OFF_BEAT, OFF_BEAT_MOST = 1.6, 3.4
"""Price per beat beside that, and the most both can cost."""
EARLY, EARLY_MOST = 4.0, 3.0
EARLY_FROM_BEATS, EARLY_FROM_SHARE, EARLY_LONGEST_BEATS = 0.6, 0.4, 4.0
"""Added per beat for a note that comes earlier than this (in beats, and in shares of the written distance);
not after longer notes and rests, which beginners cut short."""
RESTART, RESTART_AT_BARLINE, RESTART_PER_NOTE, RESTART_WITHOUT_PAUSE = 4.5, 1.0, 1.0, 2.0
RESTART_NOTES = 2
"""A restart may also go to the second or third note, at RESTART_PER_NOTE each."""
PAUSE_BEATS = 0.9
LEAD_ON_PITCH, LEAD_OTHER = 1.8, 0.5
TRAIL_ON_PITCH, TRAIL_OTHER, TRAIL_SHARE = 2.5, 1.5, 0.8
LONG_ATOM_SECONDS = 0.12


@dataclass(frozen=True, slots=True)
class Placed:
    """A written note and its span, as indices of boundaries."""

    note: int
    start: int
    end: int
    pitch: int


@dataclass(frozen=True, slots=True)
class ExtraSpan:
    """A sounding span that belongs to no written note."""

    start: int
    end: int
    pitch: int


@dataclass(frozen=True, slots=True)
class Decoding:
    log_score: float
    placed: tuple[Placed, ...]
    """In order of time; a note index that does not rise is a restart."""
    extra_spans: tuple[ExtraSpan, ...]


class Search:
    """Dynamic programming over (boundary, written note) at one tempo.

    `best` is [boundary, note]: the worth of everything before that boundary when the note begins there;
    `last` is what is won from there on when it is also the last note played.
    """

    def __init__(
        self, lattice: Lattice, *, beats: Sequence[float], seconds_per_beat: float, beats_per_bar: float
    ) -> None:
        self.lattice = lattice
        self.beats = np.array(beats, dtype=np.float64)
        self.seconds_per_beat = seconds_per_beat
        self.count = len(beats)
        self.restart_cost = _restart_costs(self.beats, beats_per_bar)
        self.lead = self._edge_filler(LEAD_ON_PITCH, LEAD_OTHER)
        trail = self._edge_filler(TRAIL_ON_PITCH, TRAIL_OTHER)
        self._trail = TRAIL_SHARE * (trail[-1] - trail)
        self.omitted_first = OMITTED_AT_EDGE * np.arange(self.count)
        self._omitted_last = self.omitted_first[::-1]
        shape = (lattice.atoms + 1, self.count)
        self.best = np.full(shape, IMPOSSIBLE)
        self._from_boundary = np.full(shape, -1, dtype=np.int64)
        self._from_note = np.full(shape, -1, dtype=np.int64)
        self.last = np.full(shape, IMPOSSIBLE)
        self._last_span = np.ones(shape, dtype=np.int64)
        for boundary in range(lattice.atoms):
            self._reach(boundary)
            self._end_from(boundary)

    def likeliest(self) -> Decoding | None:
        """The best path; None when nothing can be placed."""
        worth = self.best + self.last
        boundary, note = (int(at) for at in np.unravel_index(worth.argmax(), worth.shape))
        top = float(worth[boundary, note])
        if top <= IMPOSSIBLE / 2:
            return None
        placed = (*self.before(boundary, note), self.closing(note, boundary))
        extra_spans: list[ExtraSpan] = []
        for earlier, later in pairwise(placed):
            extra_spans += self._extra_spans(earlier.end, later.start)
        return Decoding(log_score=top, placed=placed, extra_spans=tuple(extra_spans))

    def closing(self, note: int, start: int) -> Placed:
        """The note that begins at `start` when it is the last one."""
        return self.placed(note, start, start + int(self._last_span[start, note]))

    def _end_from(self, boundary: int) -> None:
        lattice = self.lattice
        spans = np.arange(1, min(lattice.width, lattice.atoms - boundary) + 1)
        total = lattice.note[boundary, spans][:, lattice.column] + self._trail[boundary + spans][:, None]
        came = total.argmax(axis=0)
        self.last[boundary] = total[came, np.arange(self.count)] - self._omitted_last
        self._last_span[boundary] = came + 1

    def before(self, boundary: int, note: int) -> list[Placed]:
        """The notes of the best path before this one, which begins at this boundary."""
        found = []
        while self._from_boundary[boundary, note] >= 0:
            start, source = int(self._from_boundary[boundary, note]), int(self._from_note[boundary, note])
            found.append(self.followed(source, start, boundary))
            boundary, note = start, source
        return found[::-1]

    def followed(self, note: int, start: int, following: int) -> Placed:
        """The note that begins at `start` when the next written one begins at `following`."""
        lattice = self.lattice
        length = int(lattice.to_next_end[start, following - start, lattice.column[note]])
        return self.placed(note, start, start + length)

    def placed(self, note: int, start: int, end: int) -> Placed:
        lattice = self.lattice
        return Placed(note, start, end, int(lattice.note_pitch[start, end - start, lattice.column[note]]))

    def skipped(self, step: int) -> Floats:
        """For each note that has one `step` later: the price of the notes left out between them."""
        omitted = self.lattice.omitted
        return omitted[step : self.count] - omitted[1 : self.count - step + 1]

    def off_clock(self, apart: Floats, step: int) -> Floats:
        """[distance, note]: the price of this many beats up to the note `step` later."""
        written = self.beats[step:] - self.beats[:-step]
        return _off_clock(apart[:, None] - written[None], written, skips=step > 1)

    def _edge_filler(self, on_pitch: float, other: float) -> Floats:
        """Running worth of sound before the first note or after the last, where noise is cheap."""
        lattice = self.lattice
        is_target = np.isin(lattice.atom_pitch, lattice.targets)
        long = np.diff(lattice.seconds) > LONG_ATOM_SECONDS
        price = np.where(long, np.where(is_target, on_pitch, other), LEAD_OTHER)
        return np.concatenate(([0.0], np.cumsum(np.maximum(np.diff(lattice.silence_sum), -price))))

    def _reach(self, boundary: int) -> None:
        lattice, count = self.lattice, self.count
        self.best[boundary] = self.lead[boundary] - self.omitted_first
        first, counted = max(0, boundary - lattice.width), lattice.counted_seconds
        first = max(first, int(np.searchsorted(counted, counted[boundary] - LONGEST_SECONDS)))
        if first >= boundary:
            return
        starts = np.arange(first, boundary)
        worth = self.best[starts] + lattice.to_next[starts, boundary - starts][:, lattice.column]
        apart = (lattice.seconds[boundary] - lattice.seconds[starts]) / self.seconds_per_beat
        for step in range(1, min(MOST_SKIPPED + 1, count)):
            total = worth[:, : count - step] - self.off_clock(apart, step)
            came = total.argmax(axis=0)
            value = total[came, np.arange(count - step)] - self.skipped(step)
            self._improve(boundary, np.arange(step, count), value, starts[came], np.arange(count - step))
        again = worth - unpaused(apart)[:, None]
        came = again.argmax(axis=0)
        reached = again[came, np.arange(count)]
        later = np.maximum.accumulate(reached[::-1])[::-1]  # best over this note and every later one
        source = np.array(_last_best(reached))
        self._improve(boundary, np.arange(count), later - self.restart_cost, starts[came[source]], source)

    def _improve(self, boundary: int, notes: Ints, value: Floats, starts: Ints, sources: Ints) -> None:
        better: Bools = value > self.best[boundary, notes]
        at = notes[better]
        self.best[boundary, at] = value[better]
        self._from_boundary[boundary, at] = starts[better]
        self._from_note[boundary, at] = sources[better]

    def _extra_spans(self, start: int, end: int) -> list[ExtraSpan]:
        lattice, found = self.lattice, []
        while end > start:
            at = start + int(lattice.filler_split[start, end - start])
            if lattice.extra[at, end - at] > lattice.silence[at, end - at]:
                found.append(ExtraSpan(at, end, int(lattice.extra_pitch[at, end - at])))
            end = at
        return found[::-1]


def unpaused(apart: Floats) -> Floats:
    """What a restart costs more without a pause before it, for distances in beats."""
    return np.where(apart > PAUSE_BEATS, 0.0, RESTART_WITHOUT_PAUSE)


def _restart_costs(beats: Floats, beats_per_bar: float) -> Floats:
    """The price of beginning again at each note."""
    index = np.arange(len(beats))
    at_barline = np.abs(beats / beats_per_bar - np.round(beats / beats_per_bar)) < 1e-6
    among_first = np.where(index <= RESTART_NOTES, RESTART_PER_NOTE * index, -IMPOSSIBLE)
    return RESTART + np.where(index == 0, 0.0, np.where(at_barline, RESTART_AT_BARLINE, among_first))


def _off_clock(late: Floats, written: Floats, *, skips: bool) -> Floats:
    """Price of standing this many beats late (early below zero) after a written distance, in beats.

    Nobody comes in early by most of a beat, but for skipping a note and its time with it.
    """
    off = np.abs(late)
    squared = off * off
    left = OFF_CLOCK * squared / (squared + np.square(CLOCK_BEATS + CLOCK_SHARE * written))
    price = np.minimum(left + OFF_BEAT * off, OFF_BEAT_MOST)
    if not skips:
        usual = np.maximum(EARLY_FROM_BEATS, EARLY_FROM_SHARE * written)
        most = np.where(written > EARLY_LONGEST_BEATS, 0.0, EARLY_MOST)
        price += np.clip(EARLY * (-late - usual), 0.0, most)
    return np.asarray(price, dtype=np.float64)


def _last_best(values: Floats) -> list[int]:
    """For each place, where the greatest value at or after it stands."""
    best, found = len(values) - 1, []
    for place in range(len(values) - 1, -1, -1):
        if values[place] >= values[best]:
            best = place
        found.append(best)
    return found[::-1]
