"""Which written notes have no start of their own in the sound?

Definition: a note that was not placed, but whose whole time the sound of the note before it fills, is that
sound again (unsure, unless something moves where it is due) or, where another pitch is written and nothing
moves, not heard. A note without any sound beside a long one of its own pitch may be hidden in that.

Assumptions: the decoder gives a sound that two notes share to one of them; the first of them begins it.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from submissions.listening.boundaries import Boundaries
from submissions.listening.hypothesis import Hypothesis
from submissions.listening.performance import Sounded
from submissions.listening.score import Score

COVERED_SHARE, COVERED_SHARE_SAME_PITCH = 0.6, 0.4
COVERED_REACH_BEATS = 0.3
SEPARATED_LOG_ODDS = -1.5
HELD_ON_LOG_ODDS = -2.75
"""Less sign of a start than this: the note before was held on, if another pitch is written here."""
SEPARATED, NOT_SEPARATED = 0.6, 0.4
MERGED_SPAN = 1.4
"""A neighbour of the same pitch held this much longer than written may hide the note."""


def with_covered(hypothesis: Hypothesis, score: Score, sounded: list[Sounded]) -> list[Sounded]:
    """With the notes that have no start of their own but whose whole time another note's sound fills.

    A repeat tongued too softly to be parted, or the note before held on: both sound so, and only an ear
    can tell, so they are unsure unless something moves where the note should begin. Where nothing moves and
    another pitch is written, it is the note before.
    """
    by_note = {item.note: item for item in sounded}
    _handed_back(by_note, hypothesis, score)
    pace = hypothesis.seconds_per_beat
    for note in range(1, len(score.notes)):
        before = by_note.get(note - 1)
        if note in by_note or before is None:
            continue
        written, earlier = score.notes[note], score.notes[note - 1]
        due = before.onset + (written.start_beat - earlier.start_beat) * pace
        filled = min(before.end, by_note[note + 1].onset if note + 1 in by_note else before.end)
        same = before.pitch == hypothesis.targets[note]
        share = COVERED_SHARE_SAME_PITCH if same else COVERED_SHARE
        if filled < due + share * written.beats * pace:
            continue
        onset, odds = _likeliest_start(hypothesis.boundaries, due, COVERED_REACH_BEATS * pace)
        if not same and odds < HELD_ON_LOG_ODDS:
            continue
        by_note[note - 1] = replace(before, end=onset)
        by_note[note] = replace(
            before,
            note=note,
            onset=onset,
            end=filled,
            certainty=SEPARATED if odds > SEPARATED_LOG_ODDS else NOT_SEPARATED,
            doubt="could not be separated from the note before it",
        )
    return [by_note[note] for note in sorted(by_note)]


def _handed_back(by_note: dict[int, Sounded], hypothesis: Hypothesis, score: Score) -> None:
    """Of two notes of one pitch in one sound the first begins it, also where the second was given it."""
    pace = hypothesis.seconds_per_beat
    for note in range(len(score.notes) - 1):
        item = by_note.get(note + 1)
        if (
            note in by_note
            or item is None
            or not item.pitch == hypothesis.targets[note] == hypothesis.targets[note + 1]
        ):
            continue
        first, second = score.notes[note], score.notes[note + 1]
        apart = (second.start_beat - first.start_beat) * pace
        if item.end - item.onset < apart + COVERED_SHARE_SAME_PITCH * second.beats * pace:
            continue
        before = by_note.get(note - 1)
        if before is not None:
            due = before.onset + (first.start_beat - score.notes[note - 1].start_beat) * pace
            if abs(item.onset - due) > abs(item.onset - due - apart):
                continue
        by_note[note] = replace(item, note=note)
        del by_note[note + 1]


def _likeliest_start(cut: Boundaries, due: float, reach: float) -> tuple[float, float]:
    """The strongest boundary near where a note is due, and its log-odds; else the due time itself."""
    near = np.nonzero(np.abs(cut.seconds - due) < reach)[0]
    if not len(near):
        return due, -np.inf
    best = int(near[cut.repeat_log_odds[near].argmax()])
    return float(cut.seconds[best]), float(cut.repeat_log_odds[best])


def merged(hypothesis: Hypothesis, score: Score, sounded: Sequence[Sounded]) -> list[int]:
    """Notes without a sound of their own beside a long one of the same pitch."""
    by_note = {item.note: item for item in sounded}
    found = []
    for note in range(len(score.notes)):
        if note in by_note:
            continue
        for beside in (note - 1, note + 1):
            item = by_note.get(beside)
            if item is None or hypothesis.targets[beside] != hypothesis.targets[note]:
                continue
            written = score.notes[beside].beats * hypothesis.seconds_per_beat
            if item.pitch == hypothesis.targets[note] and item.end - item.onset > MERGED_SPAN * written:
                found.append(note)
                break
    return found
