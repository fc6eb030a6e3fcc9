"""Which stretch of sound is which written note?

Definition: one path through the whole take that gives every boundary span to a written note (at its own
pitch or another), to an extra note, or to silence, so that the sum of log-likelihoods is greatest: what
the frames say of each pitch, what the boundaries say of repeats, how far each note stands from its beat,
and fixed prices for a wrong pitch, an omitted note, an extra note and a fresh start. It is a semi-Markov
decoder: spans, not frames, are its steps.

Assumptions: notes come in the written order, but for restarts, which go back to the line's first notes
or to a barline; at most four notes are skipped at once; no note and its following rest last over seven
seconds, in which a held sound or a silence without any boundary counts two at most, so that a student may
stop and think. A span is at most SPAN_ATOMS boundaries long.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from submissions.listening.boundaries import Boundaries
from submissions.listening.frames import Frames
from submissions.listening.units import Bools, Floats, Ints

SPAN_ATOMS = 44
LONGEST_SECONDS, LONGEST_COUNTED_SECONDS = 7.0, 2.0
MOST_SKIPPED = 4
IMPOSSIBLE = -1e9

OMITTED = 4.6
OMITTED_REPEAT = 4.0
"""The same for a note of the pitch before it: more often it was tongued too softly to be parted."""
OMITTED_AT_EDGE = 0.9 * OMITTED
EXTRA, EXTRA_LONG, LONG_EXTRA_SECONDS = 2.2, 3.5, 0.6
"""An extra note's price, and what is added up to this length: extra notes are short, written ones long."""
SHORTEST_EXTRA_SECONDS = 0.09
WRONG_PITCH = 3.6
WRONG_BY_THIRD, WRONG_BY_KIN, WRONG_BY_MORE = 0.5, 0.5, 1.3
"""Added to WRONG_PITCH for thirds, for octave, fifth and twelfth, and for any other interval."""
KIN = (7, 12, 19, 24)
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
CLEAR_FRAMES, UNCLEAR_COST = 8, 5.0
"""A note needs this many frames that truly hold its pitch; without any it costs this much."""
OCTAVE_BEFORE = (-24, -19, -12, 12, 19, 24)
OCTAVE_SHARE = 0.7
SHORT_SECONDS, SHORT_COST = 0.06, 3.0
BRIEF_SECONDS, BRIEF_COST = 0.10, 1.0


@dataclass(frozen=True, slots=True)
class Placed:
    """A written note and its span, as indices of boundaries."""

    note: int
    start: int
    end: int
    pitch: int


@dataclass(frozen=True, slots=True)
class Stray:
    """A sounding span that belongs to no written note."""

    start: int
    end: int
    pitch: int


@dataclass(frozen=True, slots=True)
class Decoding:
    log_score: float
    placed: tuple[Placed, ...]
    """In order of time; a note index that does not rise is a restart."""
    strays: tuple[Stray, ...]


def wrong_pitch_cost(semitones: Ints) -> Floats:
    """Price of sounding this many semitones away from the written pitch."""
    away = np.abs(semitones)
    added = np.where(
        np.isin(away, KIN),
        WRONG_BY_KIN,
        np.where(away <= 2, 0.0, np.where(away <= 4, WRONG_BY_THIRD, WRONG_BY_MORE)),
    )
    return np.where(away == 0, 0.0, WRONG_PITCH + added)


class Lattice:
    """Every span's worth for every target pitch; the tempo comes later, so it can be tried cheaply."""

    def __init__(self, *, frames: Frames, boundaries: Boundaries, targets: Sequence[int]) -> None:
        self._boundaries = boundaries
        self._seconds = boundaries.seconds
        counted = np.minimum(np.diff(self._seconds), LONGEST_COUNTED_SECONDS)
        self.counted_seconds = np.concatenate(([0.0], np.cumsum(counted)))
        self._atoms = len(boundaries.frame) - 1
        self._width = min(SPAN_ATOMS, self._atoms)
        self._pitches = frames.pitches
        distinct = sorted(set(targets))
        self._column = np.array([distinct.index(target) for target in targets])
        repeats = np.diff(np.array(targets), prepend=-1) == 0
        self.omitted = np.concatenate(([0.0], np.cumsum(np.where(repeats, OMITTED_REPEAT, OMITTED))))
        self._targets = np.array(distinct, dtype=np.int64)
        self._sum_over_spans(frames)
        self._note_spans()
        self._fillers()
        self._note_then_filler()

    def decode(
        self, *, beats: Sequence[float], seconds_per_beat: float, beats_per_bar: float
    ) -> Decoding | None:
        """The best path at one tempo; None when nothing can be placed."""
        return _Search(self, np.array(beats), seconds_per_beat, beats_per_bar).run()

    def _sum_over_spans(self, frames: Frames) -> None:
        at, log_odds = self._boundaries.frame, self._boundaries.repeat_log_odds
        self._pitch_sum = _running(frames.likelihood)[at]
        self._silence_sum = _running(frames.silence)[at]
        self._clear_sum = _running(frames.close.astype(np.float64))[at]
        passed_over = np.log1p(np.exp(log_odds))
        passed_over[[0, -1]] = 0.0
        self._passed_sum = np.concatenate(([0.0], np.cumsum(passed_over)))
        per_atom = np.diff(self._pitch_sum, axis=0)
        strongest = per_atom.argmax(axis=1)
        sounds = per_atom.max(axis=1) > np.diff(self._silence_sum)
        self._atom_pitch = np.where(sounds, self._pitches[strongest], -1)
        self._begin_cost = np.zeros((self._atoms + 1, len(self._pitches)))
        cost = np.log1p(np.exp(-log_odds))
        for boundary in range(1, self._atoms):
            if not sounds[boundary - 1]:
                continue
            before = int(strongest[boundary - 1])
            self._begin_cost[boundary, before] = cost[boundary]
            for step in OCTAVE_BEFORE:
                if 0 <= before + step < len(self._pitches):
                    self._begin_cost[boundary, before + step] = OCTAVE_SHARE * cost[boundary]

    def _note_spans(self) -> None:
        """[start, atoms, target]: a written note's worth and pitch; [start, atoms]: an extra note's."""
        atoms, width = self._atoms, self._width
        shape = (atoms + 1, width + 1)
        self.note = np.full((*shape, len(self._targets)), IMPOSSIBLE)
        self.note_pitch = np.zeros((*shape, len(self._targets)), np.int16)
        self.extra = np.full(shape, IMPOSSIBLE)
        self.extra_pitch = np.zeros(shape, np.int16)
        self.silence = np.full(shape, IMPOSSIBLE)
        wrong = wrong_pitch_cost(self._pitches[:, None] - self._targets[None])
        for span in range(1, width + 1):
            start = np.arange(atoms + 1 - span)
            end = start + span
            seconds = self._seconds[end] - self._seconds[start]
            worth = self._pitch_sum[end] - self._pitch_sum[start] - self._begin_cost[start]
            worth -= (self._passed_sum[end] - self._passed_sum[start + 1])[:, None]
            self.silence[start, span] = self._silence_sum[end] - self._silence_sum[start]
            best = worth.argmax(axis=1)
            value = worth[start, best] - EXTRA - EXTRA_LONG * np.minimum(1.0, seconds / LONG_EXTRA_SECONDS)
            self.extra[start, span] = np.where(seconds > SHORTEST_EXTRA_SECONDS, value, IMPOSSIBLE)
            self.extra_pitch[start, span] = self._pitches[best]
            clear = self._clear_sum[end] - self._clear_sum[start]
            worth -= np.clip(CLEAR_FRAMES - clear, 0, CLEAR_FRAMES) * (UNCLEAR_COST / CLEAR_FRAMES)
            worth -= np.where(
                seconds < SHORT_SECONDS, SHORT_COST, np.where(seconds < BRIEF_SECONDS, BRIEF_COST, 0.0)
            )[:, None]
            for target in range(len(self._targets)):
                priced = worth - wrong[:, target]
                best = priced.argmax(axis=1)
                self.note[start, span, target] = priced[start, best]
                self.note_pitch[start, span, target] = self._pitches[best]

    def _fillers(self) -> None:
        """[start, atoms]: the best way to pass a span without a written note, and its first piece's end."""
        atoms, width = self._atoms, self._width
        piece = np.full((atoms + width + 2, width + 1), IMPOSSIBLE)
        piece[: atoms + 1] = np.maximum(self.silence, self.extra)
        self.filler = np.full((atoms + width + 2, width + 1), IMPOSSIBLE)
        self.filler[: atoms + 1, 0] = 0.0
        self.filler_split = np.zeros((atoms + 1, width + 1), np.int16)
        start = np.arange(atoms + 1)
        for span in range(1, width + 1):
            split = np.arange(span)
            total = self.filler[: atoms + 1, :span] + piece[start[:, None] + split, span - split]
            best = total.argmax(axis=1)
            self.filler[start, span] = total[start, best]
            self.filler_split[:, span] = best

    def _note_then_filler(self) -> None:
        """[start, atoms, target]: a note from here, and filler up to the next note's start."""
        atoms, width = self._atoms, self._width
        self.to_next = np.full((atoms + 1, width + 1, len(self._targets)), IMPOSSIBLE)
        self.to_next_end = np.zeros((atoms + 1, width + 1, len(self._targets)), np.int16)
        start = np.arange(atoms + 1)
        for span in range(1, width + 1):
            ends = np.arange(1, span + 1)
            rest = self.filler[start[:, None] + ends, span - ends]
            total = self.note[:, 1 : span + 1] + rest[:, :, None]
            best = total.argmax(axis=1)
            self.to_next[:, span] = np.take_along_axis(total, best[:, None], axis=1)[:, 0]
            self.to_next_end[:, span] = best + 1


class _Search:
    """Dynamic programming over (boundary, written note) at one tempo."""

    def __init__(
        self, lattice: Lattice, beats: Floats, seconds_per_beat: float, beats_per_bar: float
    ) -> None:
        self._lattice = lattice
        self._beats = beats
        self._spb = seconds_per_beat
        count = len(beats)
        index = np.arange(count)
        at_barline = np.abs(beats / beats_per_bar - np.round(beats / beats_per_bar)) < 1e-6
        self._restart_cost = RESTART + np.where(
            index == 0,
            0.0,
            np.where(
                at_barline,
                RESTART_AT_BARLINE,
                np.where(index <= RESTART_NOTES, RESTART_PER_NOTE * index, -IMPOSSIBLE),
            ),
        )
        shape = (lattice._atoms + 1, count)
        self._best = np.full(shape, IMPOSSIBLE)
        self._from_boundary = np.full(shape, -1, dtype=np.int64)
        self._from_note = np.full(shape, -1, dtype=np.int64)

    def run(self) -> Decoding | None:
        lattice = self._lattice
        if lattice._atoms < 1:
            return None
        for boundary in range(lattice._atoms):
            self._reach(boundary)
        return self._trace()

    def _edge_filler(self, on_pitch: float, other: float) -> Floats:
        """Running worth of sound before the first note or after the last, where noise is cheap."""
        lattice = self._lattice
        is_target = np.isin(lattice._atom_pitch, lattice._targets)
        long = np.diff(lattice._seconds) > LONG_ATOM_SECONDS
        price = np.where(long, np.where(is_target, on_pitch, other), LEAD_OTHER)
        return np.concatenate(([0.0], np.cumsum(np.maximum(np.diff(lattice._silence_sum), -price))))

    def _reach(self, boundary: int) -> None:
        lattice, count = self._lattice, len(self._beats)
        if boundary == 0:
            index = np.arange(count)
            self._lead = self._edge_filler(LEAD_ON_PITCH, LEAD_OTHER)
            self._omitted_first = OMITTED_AT_EDGE * index
        best = self._best[boundary]
        best[:] = self._lead[boundary] - self._omitted_first
        first, counted = max(0, boundary - lattice._width), lattice.counted_seconds
        first = max(first, int(np.searchsorted(counted, counted[boundary] - LONGEST_SECONDS)))
        if first >= boundary:
            return
        starts = np.arange(first, boundary)
        worth = self._best[starts] + lattice.to_next[starts, boundary - starts][:, lattice._column]
        apart = (lattice._seconds[boundary] - lattice._seconds[starts]) / self._spb
        for step in range(1, min(MOST_SKIPPED + 1, count)):
            written = self._beats[step:] - self._beats[:-step]
            late = apart[:, None] - written[None]
            total = worth[:, : count - step] - _off_clock(late, written, skips=step > 1)
            came = total.argmax(axis=0)
            skipped = lattice.omitted[step:count] - lattice.omitted[1 : count - step + 1]
            value = total[came, np.arange(count - step)] - skipped
            self._improve(boundary, np.arange(step, count), value, starts[came], np.arange(count - step))
        again = worth - np.where(apart > PAUSE_BEATS, 0.0, RESTART_WITHOUT_PAUSE)[:, None]
        came = again.argmax(axis=0)
        reached = again[came, np.arange(count)]
        later = np.maximum.accumulate(reached[::-1])[::-1]  # best over this note and every later one
        source = np.array(_last_best(reached))
        self._improve(boundary, np.arange(count), later - self._restart_cost, starts[came[source]], source)

    def _improve(self, boundary: int, notes: Ints, value: Floats, starts: Ints, sources: Ints) -> None:
        better: Bools = value > self._best[boundary, notes]
        at = notes[better]
        self._best[boundary, at] = value[better]
        self._from_boundary[boundary, at] = starts[better]
        self._from_note[boundary, at] = sources[better]

    def _trace(self) -> Decoding | None:
        lattice, count = self._lattice, len(self._beats)
        trail = self._edge_filler(TRAIL_ON_PITCH, TRAIL_OTHER)
        trail = TRAIL_SHARE * (trail[-1] - trail)
        omitted_last = OMITTED_AT_EDGE * (count - 1 - np.arange(count))
        top, end_at = IMPOSSIBLE, (0, 0, 0)
        for boundary in range(lattice._atoms):
            spans = np.arange(1, min(lattice._width, lattice._atoms - boundary) + 1)
            total = lattice.note[boundary, spans][:, lattice._column] + trail[boundary + spans][:, None]
            came = total.argmax(axis=0)
            value = self._best[boundary] + total[came, np.arange(count)] - omitted_last
            note = int(value.argmax())
            if value[note] > top:
                top, end_at = float(value[note]), (boundary, note, int(came[note]) + 1)
        if top <= IMPOSSIBLE / 2:
            return None
        boundary, note, span = end_at
        chain = [(boundary, note, boundary + span)]
        while self._from_boundary[boundary, note] >= 0:
            start, source = int(self._from_boundary[boundary, note]), int(self._from_note[boundary, note])
            length = int(lattice.to_next_end[start, boundary - start, lattice._column[source]])
            chain.append((start, source, start + length))
            boundary, note = start, source
        chain.reverse()
        placed = tuple(
            Placed(note, start, end, int(lattice.note_pitch[start, end - start, lattice._column[note]]))
            for start, note, end in chain
        )
        strays: list[Stray] = []
        for before, after in pairwise(placed):
            strays += self._strays(before.end, after.start)
        return Decoding(log_score=top, placed=placed, strays=tuple(strays))

    def _strays(self, start: int, end: int) -> list[Stray]:
        lattice, found = self._lattice, []
        while end > start:
            at = start + int(lattice.filler_split[start, end - start])
            if lattice.extra[at, end - at] > lattice.silence[at, end - at]:
                found.append(Stray(at, end, int(lattice.extra_pitch[at, end - at])))
            end = at
        return found[::-1]


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


def _running(values: Floats) -> Floats:
    return np.concatenate([np.zeros((1, *values.shape[1:])), np.cumsum(values, axis=0)])


def _last_best(values: Floats) -> list[int]:
    """For each place, where the greatest value at or after it stands."""
    best, found = len(values) - 1, []
    for place in range(len(values) - 1, -1, -1):
        if values[place] >= values[best]:
            best = place
        found.append(best)
    return found[::-1]
