"""What the director gave for one criterion of one line."""

from typing import ClassVar

from django.conf import settings
from django.db import models

from submissions.models.rubrics import Criterion, Level
from submissions.models.turn_ins import TurnIn


class Mark(models.Model):
    """Saved as it is given; a student sees it only when the turn-in is returned.

    A level of None is a deliberate "not yet", which is not a zero.
    """

    turn_in = models.ForeignKey(TurnIn, on_delete=models.CASCADE, related_name="marks")
    attempt = models.PositiveSmallIntegerField()
    line = models.CharField(max_length=2)
    criterion = models.ForeignKey(Criterion, on_delete=models.PROTECT, related_name="marks")
    level = models.ForeignKey(Level, on_delete=models.PROTECT, null=True, blank=True, related_name="marks")
    given_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+"
    )
    given_at = models.DateTimeField()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["turn_in", "attempt", "line", "criterion"], name="one_mark_per_criterion_and_line"
            )
        ]

    def __str__(self) -> str:
        return f"{self.criterion}, line {self.line}: {self.level or 'not yet'}"
