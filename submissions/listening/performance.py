"""What was played, before it is turned into evidence: common to winds and struck bars."""

from dataclasses import dataclass

from submissions.listening.alternatives import Alternative
from submissions.listening.evidence import Attempt, Extra


@dataclass(frozen=True, slots=True)
class Sounded:
    """The sound that stands for one written note."""

    note: int
    pitch: int
    """Sounding semitone, after the take's own tuning."""
    onset: float
    end: float
    cents: float | None
    """From that semitone of A = 440 Hz."""
    certainty: float
    """0 to 1: how much better this pitch explains the sound than the next best hypothesis."""
    doubt: str | None = None


@dataclass(frozen=True, slots=True)
class Performance:
    sounded: tuple[Sounded, ...]
    """The judged attempt, in order of note; notes that are missing were not heard."""
    extra: tuple[Extra, ...]
    attempts: tuple[Attempt, ...]
    restarted: bool
    resumed_at: int | None
    """The note at which the last attempt began, when there were several."""
    seconds_per_beat: float
    tuning: float
    """Semitones above A = 440 Hz."""
    transposed: int
    agreement: float
    """Share of the written notes that sound as this performance has them."""
    merged: tuple[int, ...] = ()
    """Notes not heard that may be hidden in a longer sound of the same pitch beside them."""
    alternatives: tuple[Alternative, ...] = ()
    """What else may have become of a note."""
