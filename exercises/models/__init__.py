"""Exercises as a director wrote them, and what was decided about their parts and fingerings."""

from exercises.models.exercises import PARTS_NEED, Exercise, ExerciseLine, ExerciseQuerySet
from exercises.models.fingerings import FingeringChoice
from exercises.models.parts import PartChoice, PartPolicy, RangeChoice, SeatRange

__all__ = [
    "PARTS_NEED",
    "Exercise",
    "ExerciseLine",
    "ExerciseQuerySet",
    "FingeringChoice",
    "PartChoice",
    "PartPolicy",
    "RangeChoice",
    "SeatRange",
]
