"""What did a player of bells, xylophone or another mallet instrument strike?

Definition: a strike is a sudden rise of the spectrum; its pitch is the lowest strong peak that the strike
added, by comparing the spectrum just after it with that just before. The strikes are then matched to the
written notes in order by the same prices as the winds' decoder.

Assumptions: bars ring on, so sound after a strike proves nothing and a note's end is the next strike; a
bar's overtones stand at about 2.76 (bells), 3 (xylophone) or 4 (marimba) times its pitch and fade first;
bars are in tune, so a semitone is a semitone.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from submissions.listening import transposition
from submissions.listening.decoder import (
    OFF_BEAT,
    OFF_BEAT_MOST,
    OMITTED,
    OMITTED_AT_EDGE,
    PAUSE_BEATS,
    RESTART,
    RESTART_AT_BARLINE,
    RESTART_NOTES,
    RESTART_WITHOUT_PAUSE,
    wrong_pitch_cost,
)
from submissions.listening.evidence import Attempt, Extra
from submissions.listening.performance import Performance, Sounded
from submissions.listening.restarts import false_start, last_attempt, restart_places
from submissions.listening.score import Score
from submissions.listening.tempo import Event, Match, match, median_tempo
from submissions.listening.units import (
    Floats,
    Floats32,
    fast_length,
    hz_from_midi,
    levels_db,
    midi_from_hz,
)

RATE = 44_100
"""A bell's strike has its pitch up to 4 kHz and its proof above."""

BELOW_PART, ABOVE_PART = 7, 8
FLUX_FRAME, FLUX_HOP = 2048, 441
FLUX_CEILING = 3.2
STRIKE_SHARE, STRIKE_PROMINENCE = 0.15, 0.10
STRIKE_APART = 8
"""Hops (80 ms) between strikes."""
SPECTRUM = 4096
AFTER_SECONDS, BEFORE_SECONDS, TAIL_SECONDS = 0.015, 0.105, 0.11
OVERTONES = (2.756, 3.0, 4.0, 2.0)
OVERTONE_SHARE = 0.2
LEAST_KEPT = 0.03
"""A strike's peak still has this share of its height a tenth of a second later (xylophone: a tenth)."""
TONAL_DB = 20.0
"""A bar's peak stands this far out of what the strike added around it; a click's or a voice's does not."""
LEAST_IN_TUNE = 0.6
"""Length of the mean of all strikes' places within the semitone: 1 for a tuned set of bars, near 0 for a
voice. Under this no instrument is struck."""
FARTHEST_FROM_BAR = 0.25
TONAL_REACH = 2.0**0.5
EDGE_HOP_SECONDS, EDGE_WINDOW_SECONDS = 0.0025, 0.005
EDGE_BEFORE, EDGE_AFTER = 12, 10
WEAKER_DB = 30.0
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


@dataclass(frozen=True, slots=True)
class Strike:
    seconds: float
    midi: float
    level_db: float
    kept: float

    @property
    def pitch(self) -> int:
        return round(self.midi)


def perform(samples: Floats32, *, score: Score) -> Performance | None:
    """The likeliest performance on a struck instrument, from samples at this module's RATE."""
    struck = strikes(samples, lowest=min(score.midis), highest=max(score.midis))
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
            rival = _matched(struck, score, other)
            if rival.agreement >= transposition.AGREEMENT and rival.cost < best.cost - transposition.MARGIN:
                best = rival
    if best.agreement < LEAST_AGREEMENT:
        return None
    return _performance(struck, heard, best, score)


def strikes(samples: Floats32, *, lowest: int, highest: int) -> list[Strike]:
    """Strikes in order, with their pitch within some semitones of the part."""
    low, high = lowest - BELOW_PART, highest + ABOVE_PART
    padded = np.concatenate(
        [np.zeros(SPECTRUM + 8000, np.float32), samples, np.zeros(3 * SPECTRUM, np.float32)]
    )
    found = []
    sharpened = np.diff(samples, prepend=np.zeros(1, np.float32))
    level = levels_db(sharpened, hop_seconds=EDGE_HOP_SECONDS, window_seconds=EDGE_WINDOW_SECONDS, rate=RATE)
    for hop in _rises(samples, low, high):
        strike = _strike(padded, hop * FLUX_HOP / RATE, low, high)
        if strike is not None:
            found.append(replace(strike, seconds=_edge(level, strike.seconds)))
    if not found:
        return []
    usual = np.percentile([strike.level_db for strike in found], 80)
    found = [strike for strike in found if strike.level_db > usual - WEAKER_DB]
    turns = np.exp(2j * np.pi * np.array([strike.midi for strike in found])).mean()
    if abs(turns) < LEAST_IN_TUNE:
        return []
    tuning = float(np.angle(turns)) / (2 * np.pi)
    return [s for s in found if abs((s.midi - tuning + 0.5) % 1.0 - 0.5) < FARTHEST_FROM_BAR]


def _rises(samples: Floats32, low: int, high: int) -> list[int]:
    """Hops at which the spectrum around the part rises at once."""
    count = len(samples) // FLUX_HOP + 1
    padded = np.concatenate(
        [np.zeros(FLUX_FRAME // 2, np.float32), samples, np.zeros(FLUX_FRAME, np.float32)]
    )
    view = np.lib.stride_tricks.sliding_window_view(padded, FLUX_FRAME)[::FLUX_HOP][:count]
    hz = np.arange(FLUX_FRAME // 2 + 1) * RATE / FLUX_FRAME
    band = (hz > 0.95 * hz_from_midi(low)) & (hz < min(20_000.0, FLUX_CEILING * hz_from_midi(high)))
    window = np.hanning(FLUX_FRAME).astype(np.float32)
    magnitude = np.concatenate(
        [
            np.abs(np.fft.rfft(view[start : start + 512] * window, axis=1))[:, band]
            for start in range(0, count, 512)
        ]
    )
    loud = np.log1p(magnitude / (3 * np.median(magnitude) + 1e-9))
    flux = np.zeros(count)
    flux[1:-1] = np.maximum(0.0, loud[2:] - loud[:-2]).sum(axis=1)
    flux /= np.percentile(flux, 99) + 1e-9
    padded_flux = np.pad(flux, STRIKE_APART)
    window_max = np.lib.stride_tricks.sliding_window_view(padded_flux, 2 * STRIKE_APART + 1).max(axis=1)
    peaks = np.nonzero((flux == window_max) & (flux > STRIKE_SHARE))[0]
    return [int(hop) for hop in peaks if _prominence(flux, int(hop)) > STRIKE_PROMINENCE]


def _edge(level: Floats, seconds: float) -> float:
    """The steepest rise of the sharpened sound near a strike: where the mallet meets the bar."""
    at = round(seconds * RATE / round(EDGE_HOP_SECONDS * RATE))
    first = max(0, at - EDGE_BEFORE)
    rise = np.diff(level[first : at + EDGE_AFTER])
    if not len(rise):
        return seconds
    return (first + int(rise.argmax()) + 0.5) * round(EDGE_HOP_SECONDS * RATE) / RATE


def _prominence(flux: Floats, hop: int) -> float:
    before, after = flux[max(0, hop - STRIKE_APART) : hop], flux[hop + 1 : hop + 1 + STRIKE_APART]
    return float(flux[hop] - max(before.min(initial=flux[hop]), after.min(initial=flux[hop])))


def _strike(padded: Floats32, seconds: float, low: int, high: int) -> Strike | None:
    length = fast_length(4 * SPECTRUM)
    window = np.hanning(SPECTRUM).astype(np.float32)
    hz = np.arange(length // 2 + 1) * RATE / length

    def spectrum(at: float) -> Floats:
        start = max(0, int(at * RATE) + SPECTRUM + 8000)
        return np.abs(np.fft.rfft(padded[start : start + SPECTRUM] * window, length)).astype(np.float64)

    after = spectrum(seconds + AFTER_SECONDS)
    added = np.maximum(0.0, after - spectrum(seconds - BEFORE_SECONDS))
    band = (hz > hz_from_midi(low - 0.6)) & (hz < hz_from_midi(high + 0.6))
    place = int(np.argmax(np.where(band, added, 0.0)))
    if added[place] <= 0.0 or not place:
        return None
    tail = spectrum(seconds + TAIL_SECONDS)[max(0, place - 3) : place + 4].max()
    kept = float(tail / (after[place] + 1e-9))
    around = (hz > hz[place] / TONAL_REACH) & (hz < hz[place] * TONAL_REACH)
    tonal = 20 * np.log10(added[place] / (np.mean(added[around]) + 1e-12))
    if kept < LEAST_KEPT or tonal < TONAL_DB:
        return None
    for ratio in OVERTONES:
        below = band & (np.abs(hz * ratio - hz[place]) < 0.015 * hz[place])
        if below.any() and added[below].max() > OVERTONE_SHARE * added[place]:
            place = int(np.argmax(np.where(below, added, 0.0)))
            break
    before, at, behind = (np.log(added[place + step] + 1e-12) for step in (-1, 0, 1))
    shift = 0.5 * (before - behind) / (before - 2 * at + behind + 1e-12)
    pitch = (place + np.clip(shift, -0.5, 0.5)) * RATE / length
    return Strike(
        seconds=seconds,
        midi=float(midi_from_hz(np.array([pitch]))[0]),
        level_db=float(20 * np.log10(added[place] + 1e-9)),
        kept=kept,
    )


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
    agreement: float


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
    return _Matched(pairs, cost, skip, pace, quick.transposed, len(right) / len(score.notes))


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
