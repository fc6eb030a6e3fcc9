"""Work between a director and students: assignments, takes, turn-ins, check-ins and marks."""

from submissions.models.assignments import Allowance, Assignment, Posting, Routes
from submissions.models.checkins import Booking, CalendarFeed, Slot
from submissions.models.checklists import Checklist
from submissions.models.hearings import Hearing
from submissions.models.listens import Listen
from submissions.models.marks import Mark
from submissions.models.phrases import Phrase
from submissions.models.pieces import Piece
from submissions.models.policies import Policy
from submissions.models.returns import Return
from submissions.models.rubrics import Criterion, Level, Rubric
from submissions.models.steps import Step, StepDone
from submissions.models.stuck import Stuck
from submissions.models.takes import Take
from submissions.models.turn_ins import CountingTake, TurnIn
from submissions.models.upkeep import ClockWatch, WorkerBeat

__all__ = [
    "Allowance",
    "Assignment",
    "Booking",
    "CalendarFeed",
    "Checklist",
    "ClockWatch",
    "CountingTake",
    "Criterion",
    "Hearing",
    "Level",
    "Listen",
    "Mark",
    "Phrase",
    "Piece",
    "Policy",
    "Posting",
    "Return",
    "Routes",
    "Rubric",
    "Slot",
    "Step",
    "StepDone",
    "Stuck",
    "Take",
    "TurnIn",
    "WorkerBeat",
]
