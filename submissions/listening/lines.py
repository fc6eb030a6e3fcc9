"""What was heard of each line, where several were played in one take?

Definition: the take is heard once, as one piece. What is said of the whole (tuning, quality) holds for each
line; what is said of notes is counted again within the line: a restart in line B is none in line A, and the
pause between two lines is no restart at all.

Assumptions: the lines follow one another as the score has them. They are cut from the evidence as it is
published, so that a line and the whole never differ by what was rounded away.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from statistics import median

from submissions.listening.causes import explain
from submissions.listening.evidence import (
    SAME_LINE,
    STOPPED_EARLY_NOTES,
    UNSURE_BELOW,
    Attempt,
    Cause,
    Evidence,
    Misreading,
    NoteHeard,
    Verdict,
)
from submissions.listening.score import Score

SAME_MOMENT_SECONDS = 0.05
"""Two moments closer than this are the same one."""
FEWEST_STEPS = 3


def by_line(evidence: Evidence, score: Score) -> dict[str, Evidence]:
    """By label, each line's share of the evidence of the whole score; empty where it names no lines."""
    if len(score.lines) == 1:
        return {score.lines[0].label: evidence}
    published = Evidence.from_json(evidence.to_json())
    found, start = dict[str, Evidence](), 0
    for line in score.lines:
        end = start + len(line.score.notes)
        found[line.label] = cut(published, start=start, end=end, score=line.score, stretch=line.stretch)
        start = end
    return found


def cut(evidence: Evidence, *, start: int, end: int, score: Score, stretch: float = 1.0) -> Evidence:
    """Notes `start` to `end` of the piece, counted from 0 again; `score` is this line alone.

    `stretch` is what one beat of this line is in beats of the piece.
    """
    notes = evidence.notes
    own = [_in_own_beats(note, stretch) for note in notes[start:end]]
    attempts = [attempt for attempt in evidence.attempts if not _is_held_over(attempt, notes, end=end)]
    earlier = [found for attempt in attempts if (found := _own(attempt, notes, start=start, end=end))]
    if len(attempts) < len(evidence.attempts):
        # the tail of the long last note was taken for another start of it: how long it was held is not known
        own[-1] = replace(own[-1], held_seconds=None, held_share=None, beats_off=None)
    begun_before = bool(evidence.restarted) and not evidence.attempts and start == 0
    begins, ends = _bounds(notes, start=start, end=end)
    heard = [note for note in own if note.onset_seconds is not None]
    right = sum(note.leaning is Verdict.AS_WRITTEN for note in own)
    return replace(
        evidence,
        notes=tuple(own),
        tempo_bpm=_tempo(own, score) or _scaled(evidence.tempo_bpm, 1 / stretch),
        steadiness=_scaled(evidence.steadiness, 1 / stretch),
        extra=tuple(note for note in evidence.extra if begins <= note.onset_seconds < ends),
        attempts=tuple(earlier),
        restarted=_known(evidence.restarted, bool(earlier) or begun_before),
        stopped_early=_known(evidence.stopped_early, stopped_early(own)),
        other_line=_known(evidence.other_line, bool(heard) and right < SAME_LINE * len(heard)),
        misreading=_misreading(evidence.misreading, own, start=start, end=end, score=score),
        changes=tuple(
            replace(change, note=change.note - start)
            for change in evidence.changes
            if start <= change.note < end
        ),
    )


def stopped_early(notes: Sequence[NoteHeard]) -> bool:
    """Whether the last notes are missing."""
    missing = 0
    for note in reversed(notes):
        if note.onset_seconds is not None:
            break
        missing += 1
    return missing >= min(STOPPED_EARLY_NOTES, len(notes))


def _in_own_beats(note: NoteHeard, stretch: float) -> NoteHeard:
    off = note.beats_off
    return note if off is None else replace(note, beats_off=off / stretch)


def _scaled(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor


def _tempo(own: Sequence[NoteHeard], score: Score) -> float | None:
    """The middle of the tempos from note to note; None where fewer than three steps were played on."""
    placed = [
        (note.onset_seconds, asked.start_beat)
        for note, asked in zip(own, score.notes, strict=True)
        if note.onset_seconds is not None
    ]
    beats = [
        60 * (later - earlier) / (after - before)
        for (before, earlier), (after, later) in pairwise(placed)
        if after > before
    ]
    return median(beats) if len(beats) >= FEWEST_STEPS else None


def _known(whole: bool | None, own: bool) -> bool | None:
    """What is unknown of the whole take stays unknown of its lines."""
    return None if whole is None else own


def _own(attempt: Attempt, notes: Sequence[NoteHeard], *, start: int, end: int) -> Attempt | None:
    """What of an earlier start lies in this line, if the student went back into it or before it."""
    first, last = max(attempt.first_note, start), min(attempt.last_note, end - 1)
    resumed = _resumed(attempt, notes)
    if first > last or resumed is None or resumed > last:
        return None
    onset = attempt.onset_seconds
    if first > attempt.first_note:
        before = [
            note.onset_seconds + (note.held_seconds or 0.0)
            for note in notes[:start]
            if note.onset_seconds is not None and note.onset_seconds < attempt.end_seconds
        ]
        onset = max([onset, *before])
    return replace(attempt, first_note=first - start, last_note=last - start, onset_seconds=onset)


def _is_held_over(attempt: Attempt, notes: Sequence[NoteHeard], *, end: int) -> bool:
    """Whether this "restart" is the last note of the line still sounding, right before the next line."""
    return end < len(notes) and attempt.last_note == end - 1 == _resumed(attempt, notes)


def _resumed(attempt: Attempt, notes: Sequence[NoteHeard]) -> int | None:
    """The first note that was played after this attempt."""
    ended = attempt.end_seconds - SAME_MOMENT_SECONDS
    return next(
        (
            number
            for number, note in enumerate(notes)
            if note.onset_seconds is not None and note.onset_seconds >= ended
        ),
        None,
    )


def _bounds(notes: Sequence[NoteHeard], *, start: int, end: int) -> tuple[float, float]:
    """Seconds from and to which an extra note is nearer to this line than to its neighbours."""

    def onsets(some: Sequence[NoteHeard]) -> list[float]:
        return [note.onset_seconds for note in some if note.onset_seconds is not None]

    before, own, after = onsets(notes[:start]), onsets(notes[start:end]), onsets(notes[end:])
    begins = (before[-1] + own[0]) / 2 if before and own else float("-inf")
    ends = (own[-1] + after[0]) / 2 if own and after else float("inf")
    return begins, ends


def _misreading(
    found: Misreading | None, own: Sequence[NoteHeard], *, start: int, end: int, score: Score
) -> Misreading | None:
    """Why this line's own notes went wrong; its sentence names this line's bars."""
    if found is not None and found.cause is Cause.OTHER_INSTRUMENT:
        notes = tuple(number - start for number in found.notes if start <= number < end)
        return replace(found, notes=notes) if notes else None
    return explain(score, [note.heard_midi if note.confidence >= UNSURE_BELOW else None for note in own])
