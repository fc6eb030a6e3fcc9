"""What a student did on the way to a turn-in: notes found, names said, a line played along."""

from datetime import datetime
from typing import Any, ClassVar

from django.db import models
from django.utils.translation import gettext_noop

from bandroom.people.models import Seat
from submissions.models.assignments import Assignment


class Step(models.TextChoices):
    """In the order in which a director would take them; a student takes them in any."""

    READY = "ready", gettext_noop("Get ready")
    SIGNS = "signs", gettext_noop("Find the signs")
    NAMES = "names", gettext_noop("Say the names")
    FINGERS = "fingers", gettext_noop("Finger it")
    PLAY = "play", gettext_noop("Play along")


class StepDone(models.Model):
    """One step of one student in one assignment; a step that was never touched has no row."""

    assignment = models.ForeignKey(Assignment, on_delete=models.CASCADE, related_name="steps_done")
    seat = models.ForeignKey(Seat, on_delete=models.CASCADE, related_name="steps_done")
    step = models.CharField(max_length=8, choices=Step.choices)
    # False while something of it is left: a line, a note that was not found.
    finished = models.BooleanField(default=False)
    # The last time something was done in it.
    at: "models.DateTimeField[datetime, datetime]" = models.DateTimeField()
    # {"ticked": […]} for the checklist; else by line: {"A": {"tapped": [1], "shown": []}},
    # {"B": {"tempo": 60}}, each with whether the line is "whole".
    detail: "models.JSONField[dict[str, Any], dict[str, Any]]" = models.JSONField(default=dict)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["assignment", "seat", "step"], name="one_row_per_assignment_seat_and_step"
            )
        ]

    def __str__(self) -> str:
        return f"{self.seat}, {self.get_step_display()}: {'done' if self.finished else 'begun'}"
