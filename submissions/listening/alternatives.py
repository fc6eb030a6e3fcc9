"""What else could have happened, about as likely as the likeliest path?

Definition: for every written note the best whole path in which it begins somewhere else, and the best in
which it is left out, from the decoder's prices read forwards and backwards. Where such a path is hardly
less likely and tells another pitch of a note, or that it is missing, the sound alone does not decide it: a
skipped note against a slip in a chromatic line, an extra note against an early one.

Assumptions: one tempo, one tuning and one set of prices, those of the likeliest path.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from submissions.listening.decoder import (
    LONGEST_SECONDS,
    MOST_SKIPPED,
    Decoding,
    Placed,
    Search,
    unpaused,
)
from submissions.listening.lattice import IMPOSSIBLE
from submissions.listening.restarts import last_attempt
from submissions.listening.units import Bools, Floats, Ints

WITHIN, AS_WRITTEN_WITHIN = 2.5, 0.5
"""A path that is less than this behind fits about as well; it must be nearer still where the likelier one has
the note as written. On simulated beginners and recorded notes one in five of the notes so doubted was wrong,
and most of all wrong ones were among them."""
SAME_START_SECONDS = 0.08
"""Starts nearer than this are the same sound."""
LAST = -1

type Start = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another reading of one note."""

    note: int
    pitch: int | None
    """Sounding semitone; None when the note was left out."""
    behind: float
    """Log-score by which the alternative path is less likely."""


def alternatives(search: Search, likeliest: Decoding) -> list[Alternative]:
    """For each note of which a path less than WITHIN behind tells something else, the likeliest such."""
    own = _told(likeliest.placed)
    onward = Onward(search)
    found: dict[int, Alternative] = {}
    for way in onward.ways(own):
        behind = max(0.0, likeliest.log_score - way.worth)
        if behind >= WITHIN:
            continue
        told = _told(onward.path(way))
        for note in range(search.count):
            pitch = told[note].pitch if note in told else None
            if pitch == (own[note].pitch if note in own else None):
                continue
            if note not in found or behind < found[note].behind:
                found[note] = Alternative(note, pitch, behind)
    return [found[note] for note in sorted(found)]


def _told(placed: Sequence[Placed]) -> dict[int, Placed]:
    return {note: placed[place] for note, place in last_attempt([item.note for item in placed]).items()}


@dataclass(frozen=True, slots=True)
class _Way:
    """A whole path by the places it goes through, each the (boundary, note) at which that note begins."""

    worth: float
    left: Start | None = None
    """From here it leaps to `then`; without `then` this is its last note."""
    then: Start | None = None
    opens: bool = False
    """`then` is its first note."""


class Onward:
    """The decoder's prices read backwards.

    `worth` is [boundary, note]: what is won from there on when the note begins there. With the search's
    `best` it is the worth of the best whole path through that start.
    """

    def __init__(self, search: Search) -> None:
        self._search = search
        atoms, count = search.lattice.atoms, search.count
        self.worth = np.full((atoms + 1, count), IMPOSSIBLE)
        self._to_boundary = np.full((atoms + 1, count), LAST, dtype=np.int64)
        self._to_note = np.full((atoms + 1, count), LAST, dtype=np.int64)
        self._leaps: dict[tuple[int, int], _Way] = {}
        for boundary in reversed(range(atoms)):
            self._reach(boundary)

    def ways(self, own: Mapping[int, Placed]) -> Iterator[_Way]:
        """The best paths in which a note begins elsewhere, is the first or the last, or is leapt over."""
        search = self._search
        seconds = search.lattice.seconds
        through = search.best + self.worth
        for note, item in own.items():
            through[np.abs(seconds - seconds[item.start]) < SAME_START_SECONDS, note] = IMPOSSIBLE
        opening = search.lead[:, None] - search.omitted_first + self.worth
        closing = search.best + search.last
        for note in range(search.count):
            worth, start = _best_start(through, note)
            yield _Way(worth, then=start)
            worth, start = _best_start(opening, note)
            yield _Way(worth, then=start, opens=True)
            worth, start = _best_start(closing, note)
            yield _Way(worth, left=start)
        yield from self._leaps.values()

    def path(self, way: _Way) -> list[Placed]:
        """All its notes in order of time."""
        search, found = self._search, list[Placed]()
        if way.left is not None:
            boundary, note = way.left
            found = search.before(boundary, note)
            if way.then is None:
                return [*found, search.closing(note, boundary)]
            found.append(search.followed(note, boundary, way.then[0]))
        elif way.then is not None and not way.opens:
            found = search.before(*way.then)
        at = way.then
        while at is not None:
            boundary, note = at
            onward = int(self._to_boundary[boundary, note])
            if onward == LAST:
                return [*found, search.closing(note, boundary)]
            found.append(search.followed(note, boundary, onward))
            at = (onward, int(self._to_note[boundary, note]))
        return found

    def _reach(self, boundary: int) -> None:
        search, lattice, count = self._search, self._search.lattice, self._search.count
        self.worth[boundary] = search.last[boundary]
        counted = lattice.counted_seconds
        farthest = int(np.searchsorted(counted, counted[boundary] + LONGEST_SECONDS, side="right"))
        ends = np.arange(boundary + 1, min(boundary + lattice.width + 1, farthest, lattice.atoms))
        if not len(ends):
            return
        own = lattice.to_next[boundary, ends - boundary][:, lattice.column]
        apart = (lattice.seconds[ends] - lattice.seconds[boundary]) / search.seconds_per_beat
        for step in range(1, min(MOST_SKIPPED + 1, count)):
            total = own[:, : count - step] - search.off_clock(apart, step) + self.worth[ends, step:]
            came = total.argmax(axis=0)
            notes = np.arange(count - step)
            value = total[came, notes] - search.skipped(step)
            self._improve(boundary, notes, value, ends[came], notes + step)
            if step > 1:
                self._leap(boundary, step, value, ends[came])
        again = self.worth[ends] - search.restart_cost
        reached = np.maximum.accumulate(again, axis=1)  # best over this note and every earlier one
        total = own - unpaused(apart)[:, None] + reached
        came = total.argmax(axis=0)
        notes = np.arange(count)
        back = np.array([int(again[came[note], : note + 1].argmax()) for note in notes])
        self._improve(boundary, notes, total[came, notes], ends[came], back)

    def _improve(self, boundary: int, notes: Ints, value: Floats, ends: Ints, onward: Ints) -> None:
        better: Bools = value > self.worth[boundary, notes]
        at = notes[better]
        self.worth[boundary, at] = value[better]
        self._to_boundary[boundary, at] = ends[better]
        self._to_note[boundary, at] = onward[better]

    def _leap(self, boundary: int, step: int, value: Floats, ends: Ints) -> None:
        total = self._search.best[boundary, : len(value)] + value
        for note in range(len(value)):
            kept = self._leaps.get((note, step))
            if kept is None or total[note] > kept.worth:
                then = (int(ends[note]), note + step)
                self._leaps[note, step] = _Way(float(total[note]), left=(boundary, note), then=then)


def _best_start(worth: Floats, note: int) -> tuple[float, Start]:
    boundary = int(worth[:, note].argmax())
    return float(worth[boundary, note]), (boundary, note)
