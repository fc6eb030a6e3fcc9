"""What the school's computer knows about itself: whether its clock is believed, and which workers live."""

from datetime import datetime

from django.db import models


class ClockWatch(models.Model):
    """One row: the moment that was last believed, looked at again and again while a worker runs."""

    believed_at = models.DateTimeField()
    looked_at = models.DateTimeField()
    # Since when, by the doubted clock itself; None while it is believed.
    doubted_since: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )

    def __str__(self) -> str:
        return f"Clock believed at {self.believed_at}"


class WorkerBeat(models.Model):
    """That a worker of this name lived at a moment; each machine's supervisor says so by itself."""

    name = models.CharField(max_length=80, unique=True)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"Worker {self.name}, {self.at}"
