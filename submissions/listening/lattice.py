"""What is every stretch of sound worth as a written note, an extra note or silence?

Definition: a span is a run of neighbouring boundaries; its worth for a pitch is the sum of its frames'
log-likelihoods, less what its start and the boundaries it passes over say against it, less the price of a
wrong pitch, of an extra note, of being short and of holding no clear pitch. Filler is the likeliest way to
pass a span without any written note.

Assumptions: a span is at most SPAN_ATOMS boundaries long. The tempo plays no part here, so that it can be
tried cheaply.
"""

from collections.abc import Sequence

import numpy as np

from submissions.listening.boundaries import Boundaries
from submissions.listening.frames import Frames
from submissions.listening.units import Floats, Ints

SPAN_ATOMS = 44
LONGEST_COUNTED_SECONDS = 2.0
"""A held sound or a silence without any boundary counts no longer."""
IMPOSSIBLE = -1e9

OMITTED = 4.6
OMITTED_REPEAT = 4.0
"""The same for a note of the pitch before it: more often it was tongued too softly to be parted."""
EXTRA, EXTRA_LONG, LONG_EXTRA_SECONDS = 2.2, 3.5, 0.6
"""An extra note's price, and what is added up to this length: extra notes are short, written ones long."""
SHORTEST_EXTRA_SECONDS = 0.09
WRONG_PITCH = 3.6
WRONG_BY_THIRD, WRONG_BY_KIN, WRONG_BY_MORE = 0.5, 0.5, 1.3
"""Added to WRONG_PITCH for thirds, for octave, fifth and twelfth, and for any other interval."""
KIN = (7, 12, 19, 24)
CLEAR_FRAMES, UNCLEAR_COST = 8, 5.0
"""A note needs this many frames that truly hold its pitch; without any it costs this much."""
OCTAVE_BEFORE = (-24, -19, -12, 12, 19, 24)
OCTAVE_SHARE = 0.7
SHORT_SECONDS, SHORT_COST = 0.06, 3.0
BRIEF_SECONDS, BRIEF_COST = 0.10, 1.0


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
    """Every span's worth for every target pitch, by [first boundary, atoms, target].

    `atoms` is how many stretches between boundaries there are and `column` each written note's place among
    the distinct `targets`; `atom_pitch` is what each atom sounds by itself, -1 for nothing.
    """

    def __init__(self, *, frames: Frames, boundaries: Boundaries, targets: Sequence[int]) -> None:
        self._cut = boundaries
        self.seconds = boundaries.seconds
        counted = np.minimum(np.diff(self.seconds), LONGEST_COUNTED_SECONDS)
        self.counted_seconds = np.concatenate(([0.0], np.cumsum(counted)))
        self.atoms = len(boundaries.frame) - 1
        self.width = min(SPAN_ATOMS, self.atoms)
        self._pitches = frames.pitches
        distinct = sorted(set(targets))
        self.column = np.array([distinct.index(target) for target in targets])
        repeats = np.diff(np.array(targets), prepend=-1) == 0
        self.omitted = np.concatenate(([0.0], np.cumsum(np.where(repeats, OMITTED_REPEAT, OMITTED))))
        self.targets = np.array(distinct, dtype=np.int64)
        self._sum_over_spans(frames)
        self._note_spans()
        self._fillers()
        self._note_then_filler()

    def _sum_over_spans(self, frames: Frames) -> None:
        at, log_odds = self._cut.frame, self._cut.repeat_log_odds
        self._pitch_sum = _running(frames.likelihood)[at]
        self.silence_sum = _running(frames.silence)[at]
        self._clear_sum = _running(frames.close.astype(np.float64))[at]
        passed_over = np.log1p(np.exp(log_odds))
        passed_over[[0, -1]] = 0.0
        self._passed_sum = np.concatenate(([0.0], np.cumsum(passed_over)))
        per_atom = np.diff(self._pitch_sum, axis=0)
        strongest = per_atom.argmax(axis=1)
        sounds = per_atom.max(axis=1) > np.diff(self.silence_sum)
        self.atom_pitch = np.where(sounds, self._pitches[strongest], -1)
        self._begin_cost = np.zeros((self.atoms + 1, len(self._pitches)))
        cost = np.log1p(np.exp(-log_odds))
        for boundary in range(1, self.atoms):
            if not sounds[boundary - 1]:
                continue
            before = int(strongest[boundary - 1])
            self._begin_cost[boundary, before] = cost[boundary]
            for step in OCTAVE_BEFORE:
                if 0 <= before + step < len(self._pitches):
                    self._begin_cost[boundary, before + step] = OCTAVE_SHARE * cost[boundary]

    def _note_spans(self) -> None:
        """[start, atoms, target]: a written note's worth and pitch; [start, atoms]: an extra note's."""
        atoms, width = self.atoms, self.width
        shape = (atoms + 1, width + 1)
        self.note = np.full((*shape, len(self.targets)), IMPOSSIBLE)
        self.note_pitch = np.zeros((*shape, len(self.targets)), np.int16)
        self.extra = np.full(shape, IMPOSSIBLE)
        self.extra_pitch = np.zeros(shape, np.int16)
        self.silence = np.full(shape, IMPOSSIBLE)
        wrong = wrong_pitch_cost(self._pitches[:, None] - self.targets[None])
        for span in range(1, width + 1):
            start = np.arange(atoms + 1 - span)
            end = start + span
            seconds = self.seconds[end] - self.seconds[start]
            worth = self._pitch_sum[end] - self._pitch_sum[start] - self._begin_cost[start]
            worth -= (self._passed_sum[end] - self._passed_sum[start + 1])[:, None]
            self.silence[start, span] = self.silence_sum[end] - self.silence_sum[start]
            best = worth.argmax(axis=1)
            value = worth[start, best] - EXTRA - EXTRA_LONG * np.minimum(1.0, seconds / LONG_EXTRA_SECONDS)
            self.extra[start, span] = np.where(seconds > SHORTEST_EXTRA_SECONDS, value, IMPOSSIBLE)
            self.extra_pitch[start, span] = self._pitches[best]
            clear = self._clear_sum[end] - self._clear_sum[start]
            worth -= np.clip(CLEAR_FRAMES - clear, 0, CLEAR_FRAMES) * (UNCLEAR_COST / CLEAR_FRAMES)
            worth -= np.where(
                seconds < SHORT_SECONDS, SHORT_COST, np.where(seconds < BRIEF_SECONDS, BRIEF_COST, 0.0)
            )[:, None]
            for target in range(len(self.targets)):
                priced = worth - wrong[:, target]
                best = priced.argmax(axis=1)
                self.note[start, span, target] = priced[start, best]
                self.note_pitch[start, span, target] = self._pitches[best]

    def _fillers(self) -> None:
        """[start, atoms]: the best way to pass a span without a written note, and its first piece's end."""
        atoms, width = self.atoms, self.width
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
        atoms, width = self.atoms, self.width
        self.to_next = np.full((atoms + 1, width + 1, len(self.targets)), IMPOSSIBLE)
        self.to_next_end = np.zeros((atoms + 1, width + 1, len(self.targets)), np.int16)
        start = np.arange(atoms + 1)
        for span in range(1, width + 1):
            ends = np.arange(1, span + 1)
            rest = self.filler[start[:, None] + ends, span - ends]
            total = self.note[:, 1 : span + 1] + rest[:, :, None]
            best = total.argmax(axis=1)
            self.to_next[:, span] = np.take_along_axis(total, best[:, None], axis=1)[:, 0]
            self.to_next_end[:, span] = best + 1


def _running(values: Floats) -> Floats:
    return np.concatenate([np.zeros((1, *values.shape[1:])), np.cumsum(values, axis=0)])
