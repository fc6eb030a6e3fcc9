"""What goes back to the student with the marks of one attempt."""

from typing import ClassVar

from django.conf import settings
from django.db import models

from submissions.models.turn_ins import TurnIn


class Return(models.Model):
    """A draft until `returned_at` is set: the note is kept as the director types it."""

    turn_in = models.ForeignKey(TurnIn, on_delete=models.CASCADE, related_name="returns")
    attempt = models.PositiveSmallIntegerField()
    worked = models.TextField("one thing that worked", blank=True, max_length=1000)
    next_step = models.TextField("next step", blank=True, max_length=1000)
    look_at = models.CharField(max_length=40, blank=True)  # "A2": line A, bar 2
    asks_again = models.BooleanField(default=False)
    returned_at = models.DateTimeField(null=True, blank=True)
    returned_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+"
    )
    seen_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["turn_in", "attempt"], name="one_return_per_attempt")
        ]

    def __str__(self) -> str:
        return f"Return of {self.turn_in}"
