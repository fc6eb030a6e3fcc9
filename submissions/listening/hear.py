"""One take, from the bytes of a recording to evidence.

Definition: decode; look at the quality; if somebody plays, find the likeliest performance; turn it into
one NoteHeard for every written note and what is said of the take.
"""

from pathlib import Path

import numpy as np

from submissions.listening import frames, percussion, quality, strikes, transposition, winds
from submissions.listening.causes import explain
from submissions.listening.clean import clean
from submissions.listening.decode import DecodedSound, decode
from submissions.listening.evidence import (
    SAME_LINE,
    UNSURE_BELOW,
    Cause,
    Change,
    Evidence,
    Misreading,
    NoteHeard,
    Quality,
    Verdict,
)
from submissions.listening.lines import stopped_early
from submissions.listening.performance import Performance, Sounded
from submissions.listening.score import Score
from submissions.listening.spelling import with_written
from submissions.listening.timing import beats_off, unsteadiness
from submissions.listening.units import HOP_SECONDS, RATE, Floats32
from submissions.listening.verdicts import notes_heard

PLAYED_AGREEMENT = 0.5
"""With this share of notes as written somebody plays, however short the notes are. Not in another part: with
fifty transpositions to choose from, the tune of speech fits a narrow line."""
SYLLABLE_SECONDS, PLAYED_SHARE = 0.3, 0.5
"""Notes that follow one another as fast as syllables may be some: they prove a player only where they fill
this share of all that sounds."""
SURELY_THIS_LINE, OTHER_LINE_AHEAD = 0.75, 0.15
FEWEST_OF_A_LINE = 4


def hear_take(*, audio: bytes | Path, score: Score) -> Evidence:
    """What was heard of each written note. Raises HearingError when the recording cannot be read."""
    sound = decode(audio, rate=strikes.RATE if score.struck else RATE)
    found = quality.sound_quality(sound.samples)
    if sound.cut_off:
        found.append(Quality.CUT_OFF)
    if Quality.SILENT in found:
        return _nobody(score, sound, found)
    performance, more = _performance(sound, score)
    found += more
    if performance is None:
        return _nobody(score, sound, found)
    other = not performance.transposed and _plays_other_line(sound, score, performance)
    return _evidence(performance, score, sound, found, other_line=other)


def _performance(sound: DecodedSound, score: Score) -> tuple[Performance | None, list[Quality]]:
    """The likeliest performance, None when nobody plays; and what its pitch shows of the quality."""
    if score.struck:
        return percussion.perform(sound.samples, score=score), []
    samples = clean(sound.samples, lowest_midi=min(score.midis))
    heard = winds.track(samples, score=score)
    found = [Quality.NOISY] if quality.is_noisy(heard) else []
    performance = winds.perform(samples, heard, score=score)
    plays = performance is not None and _fits(performance, heard)
    if not plays and not quality.has_player(heard) and not _plays_elsewhere(samples, score):
        return None, found + quality.sounds_instead(heard)
    return performance, found


def _fits(performance: Performance, heard: frames.Tracked) -> bool:
    """Whether the sound is the part by more than chance, although no pitch is held as a player holds it."""
    if performance.transposed or performance.agreement < PLAYED_AGREEMENT:
        return False
    onsets = [item.onset for item in performance.sounded]
    if len(onsets) < 2 or float(np.median(np.diff(onsets))) > SYLLABLE_SECONDS:
        return True
    filled = sum(item.end - item.onset for item in performance.sounded)
    return filled >= PLAYED_SHARE * float(heard.voiced.sum()) * HOP_SECONDS


def _plays_elsewhere(samples: Floats32, score: Score) -> bool:
    """Whether somebody plays too far from the part to be tracked around it, as an octave below."""
    lowest, highest = min(score.midis) - winds.WIDE_BELOW, max(score.midis) + winds.WIDE_ABOVE
    return quality.has_player(frames.hear(samples, lowest=lowest, highest=highest))


def _plays_other_line(sound: DecodedSound, score: Score, own: Performance) -> bool:
    """Whether another of the student's lines fits better; without them, whether this one hardly fits."""
    reached = max((item.note for item in own.sounded), default=-1) + 1
    fits = own.agreement * len(score.notes) / max(1, reached)
    if fits >= SURELY_THIS_LINE:
        return False
    if score.other_lines:
        alternatives = (_performance(sound, other)[0] for other in score.other_lines)
        return any(
            alternative is not None
            and not alternative.transposed
            and alternative.agreement > fits + OTHER_LINE_AHEAD
            for alternative in alternatives
        )
    return fits < SAME_LINE and reached >= FEWEST_OF_A_LINE


def _nobody(score: Score, sound: DecodedSound, found: list[Quality]) -> Evidence:
    silent = NoteHeard(verdict=Verdict.NOT_HEARD, leaning=Verdict.NOT_HEARD, confidence=0.95)
    if Quality.NOBODY_PLAYS not in found:
        found = [*found, Quality.NOBODY_PLAYS]
    return Evidence(notes=tuple(silent for _ in score.notes), quality=tuple(found), seconds=sound.seconds)


def _evidence(
    performance: Performance, score: Score, sound: DecodedSound, found: list[Quality], *, other_line: bool
) -> Evidence:
    paced = len(performance.sounded) > 1
    by_note = {item.note: item for item in performance.sounded}
    off, unsteady = _timing(performance, score)
    misreading = _misreading(performance, score, by_note)
    explained = misreading.notes if misreading else ()
    notes = notes_heard(performance, with_written(score), beats_off=off, explained=explained)
    return Evidence(
        notes=notes,
        extra=performance.extra,
        tempo_bpm=60.0 / performance.seconds_per_beat if paced else None,
        steadiness=unsteady,
        tuning_cents=100.0 * performance.tuning,
        restarted=performance.restarted,
        attempts=performance.attempts,
        transposed_semitones=performance.transposed,
        transposed_sentence=_transposed_sentence(performance, score),
        other_line=other_line,
        stopped_early=stopped_early(notes),
        quality=tuple(found),
        misreading=misreading,
        changes=_changes(performance, score),
        seconds=sound.seconds,
    )


def _timing(performance: Performance, score: Score) -> tuple[dict[int, float | None], float | None]:
    """Beats off for every judged note, each attempt by its own clock; and the last one's unsteadiness."""
    resumed = performance.resumed_at
    groups = [list(performance.sounded)]
    if resumed is not None:
        groups = [
            [item for item in performance.sounded if item.note < resumed],
            [item for item in performance.sounded if item.note >= resumed],
        ]
    found: dict[int, float | None] = {}
    unsteady = None
    for group in groups:
        onsets = [item.onset for item in group]
        beats = [score.notes[item.note].start_beat for item in group]
        pace = performance.seconds_per_beat
        for item, away in zip(group, beats_off(onsets, beats, seconds_per_beat=pace), strict=True):
            found[item.note] = away
        unsteady = unsteadiness(onsets, beats, seconds_per_beat=pace)
    return found, unsteady


def _transposed_sentence(performance: Performance, score: Score) -> str | None:
    if not performance.transposed:
        return None
    return transposition.part_played(score.transposition, performance.transposed)


def _misreading(performance: Performance, score: Score, by_note: dict[int, Sounded]) -> Misreading | None:
    if performance.transposed:
        right = tuple(
            item.note
            for item in performance.sounded
            if item.pitch == score.notes[item.note].midi + performance.transposed
        )
        return Misreading(
            cause=Cause.OTHER_INSTRUMENT,
            sentence=_transposed_sentence(performance, score) or "",
            notes=right,
            log_odds=transposition.MARGIN,
        )
    heard = [
        by_note[index].pitch if index in by_note and by_note[index].certainty >= UNSURE_BELOW else None
        for index in range(len(score.notes))
    ]
    return explain(score, heard)


def _changes(performance: Performance, score: Score) -> tuple[Change, ...]:
    """Gaps before notes that have a recommended alternate fingering, beside the student's other gaps."""
    by_note = {item.note: item for item in performance.sounded}
    gaps = {
        note: 1000.0 * max(0.0, item.onset - by_note[note - 1].end)
        for note, item in by_note.items()
        if note - 1 in by_note and item.pitch != by_note[note - 1].pitch
    }
    usual = [gap for note, gap in gaps.items() if note not in score.alternates]
    return tuple(
        Change(
            note=note,
            gap_ms=gaps[note],
            usual_gap_ms=float(np.median(usual)) if usual else None,
        )
        for note in score.alternates
        if note in gaps
    )
