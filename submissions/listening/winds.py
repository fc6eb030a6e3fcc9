"""What did a wind player play? The winds' way from cleaned samples to a performance.

Definition: track the pitch around the part, cut the take at every possible boundary, match the cut notes
quickly to find the tempo, then let the decoder choose one path; other tunings, readings of the key and
transpositions are decoded the same way over the same frames, and the likeliest wins.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace

from submissions.listening import transposition
from submissions.listening.alternatives import Alternative, alternatives
from submissions.listening.boundaries import Boundaries, boundaries
from submissions.listening.covered import merged, with_covered
from submissions.listening.decoder import Search
from submissions.listening.envelopes import Envelopes, envelopes
from submissions.listening.evidence import Attempt
from submissions.listening.extras import extras
from submissions.listening.frames import ABOVE_PART, BELOW_PART, Frames, Tracked, frames, hear
from submissions.listening.hypothesis import Hypothesis
from submissions.listening.lattice import WRONG_PITCH, Lattice
from submissions.listening.misreading import key_readings, readings
from submissions.listening.performance import Performance, Sounded
from submissions.listening.restarts import attempts, false_start, last_attempt, restart_places
from submissions.listening.score import Score
from submissions.listening.sounds import onset_of, sound_of
from submissions.listening.tempo import Match, events, match, median_tempo
from submissions.listening.tuning import other_side
from submissions.listening.units import HOP_SECONDS, Floats32

WIDE_BELOW, WIDE_ABOVE = 20, 24
"""Semitones around the part when another instrument's part may be sounding."""
TEMPO_TOLERANCE = 0.03
MISREADING_COST = 6.0


def perform(samples: Floats32, heard: Tracked, *, score: Score) -> Performance | None:
    """The likeliest performance; None when no note of the part can be placed."""
    levels = envelopes(samples)
    hypothesis = _as_written(heard, levels, score)
    if hypothesis is None or hypothesis.agreement < transposition.ENOUGH_AS_WRITTEN:
        hypothesis = _another(samples, levels, score, hypothesis) or hypothesis
    if hypothesis is None:
        return None
    return _performance(_reread(hypothesis, score), samples, levels, score)


def track(samples: Floats32, *, score: Score) -> Tracked:
    return hear(samples, lowest=min(score.midis) - BELOW_PART, highest=max(score.midis) + ABOVE_PART)


def _as_written(heard: Tracked, levels: Envelopes, score: Score) -> Hypothesis | None:
    hypotheses = []
    for counted, cut in _counts(heard, frames(heard), levels):
        found = match(events(cut), pitches=score.midis, beats=score.beats, printed_bpm=score.tempo_bpm)
        if found:
            hypotheses.append(_decoded(counted, cut, score, score.midis, found[0]))
    return _best(hypotheses)


def _another(
    samples: Floats32, levels: Envelopes, score: Score, first: Hypothesis | None
) -> Hypothesis | None:
    """Another instrument's part, where it beats as written and every misreading of the key; else None.

    All are decoded over the same wide frames, so their log-scores compare.
    """
    wide = hear(samples, lowest=min(score.midis) - WIDE_BELOW, highest=max(score.midis) + WIDE_ABOVE)
    seen = frames(wide, tuning=first.frames.tuning if first else None)
    plain: list[Hypothesis | None] = []
    others: list[Hypothesis | None] = []
    for counted, cut in _counts(wide, seen, levels):
        heard = events(cut)
        quick = match(heard, pitches=score.midis, beats=score.beats, printed_bpm=score.tempo_bpm)
        if not quick:
            continue
        plain.append(_decoded(counted, cut, score, score.midis, quick[0]))
        plain += [
            _decoded(counted, cut, score, reading.sounding, quick[0]) for reading in key_readings(score)
        ]
        pace = first.seconds_per_beat if first else quick[0].seconds_per_beat
        likely = transposition.likeliest(
            heard,
            pitches=score.midis,
            beats=score.beats,
            printed_bpm=score.tempo_bpm,
            seconds_per_beat=pace,
        )
        for found in likely:
            targets = [midi + found.transposed for midi in score.midis]
            others.append(_decoded(counted, cut, score, targets, found))
    other = _best(
        [hypothesis for hypothesis in others if hypothesis and hypothesis.fit >= transposition.AGREEMENT]
    )
    alternative = _best(plain)
    if other is None or (alternative is not None and other.worth < alternative.worth + transposition.MARGIN):
        return None
    return other


def _counts(heard: Tracked, seen: Frames, levels: Envelopes) -> Iterator[tuple[Frames, Boundaries]]:
    """The take under its likeliest tuning, and under the one on the other side where that is open."""
    yield seen, boundaries(seen, levels)
    other = other_side(seen.tuning)
    if other is not None:
        counted = frames(heard, tuning=other)
        yield counted, boundaries(counted, levels)


def _reread(hypothesis: Hypothesis, score: Score) -> Hypothesis:
    """The same take with whole misreadings as the notes to expect, where that explains it better.

    Each wrong pitch has its price, so a wrong note played three times over looks dearer than one long note
    and two omissions. A misreading pays once: the key, a sign, or one repeated note read as another pitch.
    """
    wrong = {p.note: p.pitch for p in hypothesis.decoding.placed if p.pitch != hypothesis.targets[p.note]}
    missing = set(range(len(hypothesis.targets))) - {p.note for p in hypothesis.decoding.placed}
    if hypothesis.transposed or not wrong or not missing:
        return hypothesis
    told = []
    for targets, price in _misread(hypothesis.targets, wrong, score):
        if any(targets[note] != hypothesis.targets[note] for note in missing):
            quick = Match(0.0, (), hypothesis.seconds_per_beat, 0)
            again = _decoded(hypothesis.frames, hypothesis.boundaries, score, targets, quick)
            if again is not None:
                told.append((again.decoding.log_score - price, again))
    if not told:
        return hypothesis
    worth, again = max(told, key=lambda item: item[0])
    return replace(again, targets=hypothesis.targets) if worth > hypothesis.decoding.log_score else hypothesis


def _misread(
    written: tuple[int, ...], wrong: dict[int, int], score: Score
) -> list[tuple[tuple[int, ...], float]]:
    """Readings that account for one of the wrong notes at least, with the price of each."""
    found = [
        (reading.sounding, MISREADING_COST)
        for reading in readings(score, heard=wrong)
        if any(reading.sounding[note] == pitch for note, pitch in wrong.items())
    ]
    repeated, runs = list(written), set[int]()
    for note, pitch in wrong.items():
        for step in (-1, 1):
            beside = note + step
            while 0 <= beside < len(written) and written[beside] == written[note]:
                repeated[beside] = repeated[note] = pitch
                runs.add(pitch)
                beside += step
    if runs:
        found.append((tuple(repeated), WRONG_PITCH * len(runs)))
    return found


def _best(hypotheses: Sequence[Hypothesis | None]) -> Hypothesis | None:
    told = [hypothesis for hypothesis in hypotheses if hypothesis is not None]
    return max(told, key=lambda hypothesis: hypothesis.worth, default=None)


def _decoded(
    counted: Frames,
    cut: Boundaries,
    score: Score,
    targets: Sequence[int],
    quick: Match,
) -> Hypothesis | None:
    """Decode at the quick match's tempo, and again when the path itself shows another."""
    lattice = Lattice(frames=counted, boundaries=cut, targets=targets)
    pace = quick.seconds_per_beat
    beats, per_bar = score.beats, score.beats_per_bar
    search = Search(lattice, beats=beats, seconds_per_beat=pace, beats_per_bar=per_bar)
    decoding = search.likeliest()
    if decoding is None:
        return None
    shown = median_tempo(
        [float(cut.frame[item.start]) * HOP_SECONDS for item in decoding.placed],
        [score.notes[item.note].start_beat for item in decoding.placed],
    )
    if shown is not None and abs(shown / pace - 1) > TEMPO_TOLERANCE:
        retimed = Search(lattice, beats=beats, seconds_per_beat=shown, beats_per_bar=per_bar)
        again = retimed.likeliest()
        if again is not None and again.log_score > decoding.log_score:
            search, decoding = retimed, again
    return Hypothesis(counted, cut, search, decoding, tuple(targets), quick.transposed)


def _performance(hypothesis: Hypothesis, samples: Floats32, levels: Envelopes, score: Score) -> Performance:
    placed, cut = hypothesis.decoding.placed, hypothesis.boundaries
    path = [item.note for item in placed]
    judged = last_attempt(path)
    onsets = [onset_of(item, hypothesis, samples, levels) for item in placed]
    found = []
    for note, place in sorted(judged.items()):
        item = placed[place]
        start, end = int(cut.frame[item.start]), int(cut.frame[item.end])
        found.append(sound_of(hypothesis, samples, levels, note, item.pitch, (start, end), onsets[place]))
    sounded = with_covered(hypothesis, score, found)
    resumed = restart_places(path)
    before = [e for e in events(cut) if e.onset < cut.frame[placed[0].start] * HOP_SECONDS - 0.02]
    shown = median_tempo(
        [item.onset for item in sounded], [score.notes[item.note].start_beat for item in sounded]
    )
    return Performance(
        sounded=tuple(sounded),
        extra=tuple(extras(hypothesis, samples, levels)),
        attempts=tuple(
            Attempt(
                first_note=path[first],
                last_note=path[last],
                onset_seconds=onsets[first],
                end_seconds=float(cut.frame[placed[last].end]) * HOP_SECONDS,
            )
            for first, last in attempts(placed)
        ),
        restarted=bool(resumed)
        or false_start(
            before,
            pitches=hypothesis.targets,
            beats=score.beats,
            seconds_per_beat=shown or hypothesis.seconds_per_beat,
        ),
        resumed_at=path[resumed[-1]] if resumed else None,
        seconds_per_beat=shown or hypothesis.seconds_per_beat,
        tuning=hypothesis.frames.tuning,
        transposed=hypothesis.transposed,
        agreement=hypothesis.agreement,
        merged=tuple(merged(hypothesis, score, sounded)),
        alternatives=tuple(_alternatives(hypothesis, judged, sounded)),
    )


def _alternatives(
    hypothesis: Hypothesis, judged: Collection[int], sounded: Sequence[Sounded]
) -> list[Alternative]:
    """What else may have become of a note; of none where the path has every note once and as written.

    Not of a note that was found or handed on only after the path was chosen.
    """
    placed = hypothesis.decoding.placed
    if tuple(item.pitch for item in placed) == hypothesis.targets and not hypothesis.decoding.extra_spans:
        return []
    found = {item.note for item in sounded}
    return [
        alternative
        for alternative in alternatives(hypothesis.search, hypothesis.decoding)
        if (alternative.note in judged) == (alternative.note in found)
    ]
