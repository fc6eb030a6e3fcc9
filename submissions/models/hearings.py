"""One run of the listener over a take."""

from datetime import datetime
from typing import Any, ClassVar

from django.db import models

from submissions.models.takes import Take


class Hearing(models.Model):
    class State(models.TextChoices):
        QUEUED = "queued", "listening soon"
        RUNNING = "running", "listening"
        DONE = "done", "heard"
        FAILED = "failed", "could not be heard"

    take = models.ForeignKey(Take, on_delete=models.CASCADE, related_name="hearings")
    engine_version = models.CharField(max_length=20)
    state = models.CharField(max_length=7, choices=State.choices, default=State.QUEUED)
    reason = models.CharField(max_length=300, blank=True)
    # The listener's own JSON for each line it heard, {"A": {…}}, kept as it came; None until it is done.
    evidence: "models.JSONField[dict[str, Any] | None, dict[str, Any] | None]" = models.JSONField(
        null=True, blank=True
    )
    # The director's ear beside the evidence, never over it, by line and note: {"A": {"3": "as_written"}}.
    overruled: "models.JSONField[dict[str, dict[str, str]], dict[str, dict[str, str]]]" = models.JSONField(
        default=dict, blank=True
    )
    queued_at = models.DateTimeField()
    finished_at: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )
    tries = models.PositiveSmallIntegerField(default=0)
    lease_until: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["take", "engine_version"], name="one_hearing_per_take_and_version"
            )
        ]
        indexes: ClassVar = [models.Index(fields=["state", "lease_until"])]

    def __str__(self) -> str:
        return f"Hearing of {self.take}"
