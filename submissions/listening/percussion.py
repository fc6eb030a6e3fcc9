"""What did a player of bells, xylophone or another mallet instrument strike?

Definition: the strikes are matched to the written notes in order by the same prices as the winds' decoder.

Assumptions: bars ring on, so sound after a strike proves nothing and a note's end is the next strike.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from submissions.listening import transposition
from submissions.listening.decoder import (
    OFF_BEAT,
    OFF_BEAT_MOST,
    OMITTED_AT_EDGE,
    PAUSE_BEATS,
    RESTART,
    RESTART_AT_BARLINE,
    RESTART_NOTES,
    RESTART_WITHOUT_PAUSE,
)
from submissions.listening.evidence import Attempt, Extra
from submissions.listening.lattice import OMITTED, wrong_pitch_cost
from submissions.listening.performance import Performance, Sounded
from submissions.listening.restarts import false_start, last_attempt, restart_places
from submissions.listening.score import Score
from submissions.listening.strikes import Strike, strikes
from submissions.listening.tempo import Event, Match, match, median_tempo
from submissions.listening.units import Floats, Floats32

EVENTS_BACK, NOTES_BACK = 6, 5
LEAD_ON_PITCH, LEAD_OTHER = 1.2, 0.5
STRAY_STRIKE = 4.2
"""A bar rings on, so a strike too many has no length to be priced by."""
EXTRA_SURE = 2.2
IMPOSSIBLE = 1e9
TRAIL_SHARE = 0.8
TRAIL_BEATS = 1.5
LEAST_AGREEMENT = 0.25
"""Under this share of notes as written, chance tones in noise or speech explain the strikes as well."""
LEAST_FIT, FEWEST_RIGHT = 0.6, 3
"""Or, of a line given up, the share of the notes reached and how many at least."""


def perform(samples: Floats32, *, score: Score) -> Performance | None:
    """The likeliest performance on a struck instrument, from samples at strikes.RATE."""
    struck = strikes(samples, lowest=min(score.midis), highest=max(score.midis), notes=len(score.notes))
    if len(struck) < min(2, len(score.notes)):
        return None
    heard = _events(struck)
    found = match(heard, pitches=score.midis, beats=score.beats, printed_bpm=score.tempo_bpm)
    best = _matched(struck, score, found[0])
    if best.agreement < transposition.ENOUGH_AS_WRITTEN:
        for other in transposition.likeliest(
            heard,
            pitches=score.midis,
            beats=score.beats,
            printed_bpm=score.tempo_bpm,
            seconds_per_beat=found[0].seconds_per_beat,
        ):
            alternative = _matched(struck, score, other)
            if (
                alternative.agreement >= transposition.AGREEMENT
                and alternative.cost < best.cost - transposition.MARGIN
            ):
                best = alternative
    if best.agreement < LEAST_AGREEMENT and not (best.fit >= LEAST_FIT and best.right >= FEWEST_RIGHT):
        return None
    return _performance(struck, heard, best, score)


def _events(struck: Sequence[Strike]) -> list[Event]:
    ends = [strike.seconds for strike in struck[1:]] + [struck[-1].seconds + 0.5]
    return [Event(strike.seconds, end, strike.pitch) for strike, end in zip(struck, ends, strict=True)]


@dataclass(frozen=True, slots=True)
class _Matched:
    pairs: tuple[tuple[int, int], ...]
    cost: float
    skip_cost: Floats
    seconds_per_beat: float
    transposed: int
    right: int
    """Notes that sound as written, or as the other part has them."""
    agreement: float
    """Their share of all written notes."""

    @property
    def fit(self) -> float:
        """Their share of the notes reached."""
        return self.right / (1 + max(note for _, note in self.pairs))


def _matched(struck: Sequence[Strike], score: Score, quick: Match) -> _Matched:
    """The cheapest order of strikes and notes, at the quick match's tempo and then at its own."""
    pace = quick.seconds_per_beat
    pairs, cost, skip = _search(struck, score, pace, quick.transposed)
    shown = median_tempo(
        [struck[strike].seconds for strike, _ in pairs], [score.notes[note].start_beat for _, note in pairs]
    )
    if shown is not None:
        pace = shown
        pairs, cost, skip = _search(struck, score, pace, quick.transposed)
    right = {n for s, n in pairs if struck[s].pitch == score.notes[n].midi + quick.transposed}
    return _Matched(pairs, cost, skip, pace, quick.transposed, len(right), len(right) / len(score.notes))


def _search(
    struck: Sequence[Strike], score: Score, pace: float, transposed: int
) -> tuple[tuple[tuple[int, int], ...], float, Floats]:
    count, notes = len(struck), len(score.notes)
    targets = np.array(score.midis) + transposed
    beats = np.array(score.beats)
    seconds = np.array([strike.seconds for strike in struck])
    pitch = np.array([strike.pitch for strike in struck])
    level = np.array([strike.level_db for strike in struck])
    on_pitch = np.isin(pitch, targets)
    # A strong strike on a pitch of the part costs as much to ignore as an extra note.
    weight = np.clip(1 - (np.percentile(level, 70) - level) / 22, 0.15, 1)
    skip = weight * np.where(on_pitch, STRAY_STRIKE, 0.75 * STRAY_STRIKE)
    skipped = np.concatenate(([0.0], np.cumsum(skip)))
    lead = np.concatenate(([0.0], np.cumsum(np.where(on_pitch, LEAD_ON_PITCH, LEAD_OTHER))))
    at_barline = np.abs(beats / score.beats_per_bar - np.round(beats / score.beats_per_bar)) < 1e-6
    may_restart = at_barline | (np.arange(notes) <= RESTART_NOTES)
    restart = RESTART + np.where(np.arange(notes) == 0, 0.0, RESTART_AT_BARLINE)
    cost = np.full((count, notes), IMPOSSIBLE)
    back = np.full((count, notes), -1, dtype=np.int64)
    for event in range(count):
        here = lead[event] + OMITTED_AT_EDGE * np.arange(notes)
        came = back[event]
        for earlier in range(max(0, event - EVENTS_BACK), event):
            between = skipped[event] - skipped[earlier + 1]
            apart = (seconds[event] - seconds[earlier]) / pace
            for step in range(1, min(NOTES_BACK, notes - 1) + 1):
                off = OFF_BEAT * np.abs(apart - (beats[step:] - beats[:-step]))
                total = cost[earlier, :-step] + between + OMITTED * (step - 1)
                total = total + np.minimum(off, OFF_BEAT_MOST)
                better = total < here[step:]
                here[step:][better] = total[better]
                came[step:][better] = (earlier * notes + np.arange(notes - step))[better]
            if earlier >= event - 2:
                pause = 0.0 if apart > PAUSE_BEATS else RESTART_WITHOUT_PAUSE
                for note in np.nonzero(may_restart)[0].tolist():
                    source = note + int(cost[earlier, note:].argmin())
                    total_again = cost[earlier, source] + between + restart[note] + pause
                    if total_again < here[note]:
                        here[note], came[note] = total_again, earlier * notes + source
        cost[event] = here + wrong_pitch_cost(pitch[event] - targets)
    end = cost + OMITTED_AT_EDGE * (notes - 1 - np.arange(notes))[None]
    end = end + TRAIL_SHARE * (lead[count] - lead[1:])[:, None]
    event, note = divmod(int(end.argmin()), notes)
    pairs = [(event, note)]
    while back[event, note] >= 0:
        event, note = divmod(int(back[event, note]), notes)
        pairs.append((event, note))
    return tuple(reversed(pairs)), float(end.min()), skip


def _performance(
    struck: Sequence[Strike], heard: Sequence[Event], best: _Matched, score: Score
) -> Performance:
    path = [note for _, note in best.pairs]
    judged = last_attempt(path)
    resumed = restart_places(path)
    used = {strike for strike, _ in best.pairs}
    first, last = best.pairs[0][0], best.pairs[-1][0]
    until = struck[last].seconds + TRAIL_BEATS * best.seconds_per_beat
    sounded = []
    for note, place in sorted(judged.items()):
        strike, event = struck[best.pairs[place][0]], heard[best.pairs[place][0]]
        sounded.append(
            Sounded(
                note=note,
                pitch=strike.pitch,
                onset=strike.seconds,
                end=event.end,
                cents=100.0 * (strike.midi - strike.pitch),
                certainty=float(np.clip(0.4 + strike.kept, 0.0, 1.0)),
            )
        )
    extra = [
        Extra(strike.pitch, strike.seconds, heard[index].end - strike.seconds)
        for index, strike in enumerate(struck)
        if index not in used
        and first < index
        and strike.seconds <= until
        and best.skip_cost[index] >= EXTRA_SURE
    ]
    edges = [0, *resumed, len(path)]
    tries = [(start, end - 1) for start, end in pairwise(edges)][:-1]
    return Performance(
        sounded=tuple(sounded),
        extra=tuple(extra),
        attempts=tuple(
            Attempt(path[a], path[b], struck[best.pairs[a][0]].seconds, heard[best.pairs[b][0]].end)
            for a, b in tries
        ),
        restarted=bool(resumed)
        or false_start(
            heard[:first],
            pitches=[midi + best.transposed for midi in score.midis],
            beats=score.beats,
            seconds_per_beat=best.seconds_per_beat,
        ),
        resumed_at=path[resumed[-1]] if resumed else None,
        seconds_per_beat=best.seconds_per_beat,
        tuning=float(np.median([item.cents or 0.0 for item in sounded])) / 100.0,
        transposed=best.transposed,
        agreement=best.agreement,
    )
