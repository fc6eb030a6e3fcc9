"""How far from A = 440 Hz does the student's instrument stand?

Definition: the circular mean, over steady voiced frames, of how far the tracked pitch is from the nearest
semitone; between -0.5 and +0.5 semitone.

Assumptions: tuning is the same for the whole take. Past a third of a semitone the direction is open (40
cents flat looks like 60 sharp of the semitone below), so the caller also tries the other side.
"""

import numpy as np

from submissions.listening.units import Bools, Floats

STEADY_SEMITONES = 0.15
"""A frame within this of the one before belongs to a held pitch."""
FEWEST_FRAMES = 20
WEAKEST_AGREEMENT = 0.2
"""Length of the mean vector under which pitches agree on no tuning."""
DOUBTFUL_SEMITONES = 0.30


def overall_tuning(midi: Floats, voiced: Bools) -> float:
    """Semitones above A = 440 Hz; 0 when too little sounds or the pitches agree on nothing."""
    steady = voiced & (np.abs(np.diff(midi, prepend=np.nan)) < STEADY_SEMITONES)
    if int(steady.sum()) <= FEWEST_FRAMES:
        return 0.0
    mean = np.exp(2j * np.pi * midi[steady]).mean()
    if abs(mean) <= WEAKEST_AGREEMENT:
        return 0.0
    return float(np.angle(mean) / (2 * np.pi))


def other_side(tuning: float) -> float | None:
    """The same tuning counted from the semitone on the other side, where that is plausible too."""
    if abs(tuning) < DOUBTFUL_SEMITONES:
        return None
    return tuning - 1.0 if tuning > 0 else tuning + 1.0
