"""A student's one tap: "I'm stuck at this bar"."""

from datetime import datetime

from django.db import models

from bandroom.people.models import Seat
from submissions.models.assignments import Assignment


class Stuck(models.Model):
    assignment = models.ForeignKey(Assignment, on_delete=models.CASCADE, related_name="stuck")
    seat = models.ForeignKey(Seat, on_delete=models.CASCADE, related_name="stuck")
    line = models.CharField(max_length=2)
    bar = models.PositiveSmallIntegerField()
    at = models.DateTimeField()
    helped_at: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )

    class Meta:
        ordering = ("at", "pk")

    def __str__(self) -> str:
        return f"{self.seat} is stuck at line {self.line}, bar {self.bar}"
