"""What does one span of the path sound like?

Definition: its onset and end from the fine levels, its pitch after the octave below and above have been
ruled out, its cents from the tracked pitch of its middle, and how much better that pitch explains it than any
other.

Assumptions: the path gave the span to one note; the tuning is that of the whole take.
"""

import numpy as np

from submissions.listening.boundaries import NO_PITCH
from submissions.listening.decoder import ExtraSpan, Placed
from submissions.listening.envelopes import Envelopes
from submissions.listening.frames import Frames
from submissions.listening.hypothesis import Hypothesis
from submissions.listening.octaves import Steady, octave_played, slip_heard_high
from submissions.listening.onsets import PitchChange, end_seconds, onset_seconds
from submissions.listening.performance import Sounded
from submissions.listening.units import Floats, Floats32

NEAR_PITCH = 0.8
WILD_CENTS = 80.0


def onset_of(item: Placed | ExtraSpan, hypothesis: Hypothesis, samples: Floats32, levels: Envelopes) -> float:
    cut, tuning = hypothesis.boundaries, hypothesis.frames.tuning
    start, end = int(cut.frame[item.start]), int(cut.frame[item.end])
    before = int(cut.path[start - 1]) if start else NO_PITCH
    change = None
    if before not in (NO_PITCH, item.pitch):
        change = PitchChange(samples, before=before + tuning, after=item.pitch + tuning)
    return onset_seconds(levels.level_db, start=start, end=end, change=change)


def sound_of(
    hypothesis: Hypothesis,
    samples: Floats32,
    levels: Envelopes,
    note: int,
    pitch: int,
    span: tuple[int, int],
    onset: float,
) -> Sounded:
    start, end = span
    tuning, target = hypothesis.frames.tuning, hypothesis.targets[note]
    stop = end_seconds(levels.level_db, onset=onset, start=start, end=end)
    tracked = hypothesis.frames.midi[start:end]
    steady = Steady(samples, start=onset + 0.03, end=stop - 0.02, tuning=tuning)
    heard_above = 12 if slip_heard_high(steady, pitch=pitch, target=target) else 0
    pitch = octave_played(steady, pitch=pitch - heard_above, target=target)
    folded = tracked + 12 * np.round((pitch - tracked) / 12)
    near = folded[np.abs(folded - pitch) < NEAR_PITCH]
    return Sounded(
        note=note,
        pitch=pitch,
        onset=onset,
        end=max(stop, onset + 0.05),
        cents=_cents(near, pitch, tuning),
        certainty=_certainty(hypothesis.frames, start, end, pitch + heard_above, target),
    )


def _cents(near: Floats, pitch: int, tuning: float) -> float | None:
    """Median over the note's middle, its attack and release left out."""
    if not len(near):
        return None
    if len(near) > 3:
        skip = int(0.2 * len(near))
        near = near[skip : max(skip + 3, int(0.85 * len(near)))]
    cents = 100.0 * float(np.median(near) - pitch)
    return None if abs(cents) > WILD_CENTS else cents + 100.0 * tuning


def _certainty(counted: Frames, start: int, end: int, pitch: int, target: int) -> float:
    """From the span's evidence for its pitch against every other semitone, kin included."""
    total = counted.likelihood[start:end].sum(axis=0)
    place = pitch - counted.lowest
    if not 0 <= place < len(total):
        return 0.5
    others = np.delete(total, place)
    margin = float(total[place] - others.max())
    if pitch != target:
        margin = min(margin, float(total[place] - total[target - counted.lowest]))
    return float(1.0 / (1.0 + np.exp(-1.5 * margin)))
