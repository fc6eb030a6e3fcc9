"""One recording, from its declaration on a phone to a file that can be played and seeked."""

import uuid
from datetime import datetime
from typing import ClassVar

from django.db import models
from django.utils.translation import gettext_noop

from bandroom.people.models import Seat
from submissions.models.assignments import Assignment


class Take(models.Model):
    class State(models.TextChoices):
        # Named with size and SHA-256; bytes are still on their way.
        DECLARED = "declared", gettext_noop("sending")
        # Every byte is here and the SHA-256 of the whole file is the declared one.
        RECEIVED = "received", gettext_noop("arrived")
        # A worker holds it under a lease.
        PREPARING = "preparing", gettext_noop("arrived")
        READY = "ready", gettext_noop("ready")
        REFUSED = "refused", gettext_noop("cannot be played")
        # Deleted by retention or on a family's request; the row keeps what is needed for the record.
        DELETED = "deleted", gettext_noop("deleted")

    class Origin(models.TextChoices):
        RECORDER = "recorder", "recorded here"
        FILE = "file", "a file from elsewhere"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    assignment = models.ForeignKey(Assignment, on_delete=models.CASCADE, related_name="takes")
    seat = models.ForeignKey(Seat, on_delete=models.CASCADE, related_name="takes")
    # Labels of the lines played in it, in order: ["A"], or ["A", "B"] for one take of both.
    lines = models.JSONField(default=list)
    origin = models.CharField(max_length=8, choices=Origin.choices, default=Origin.RECORDER)
    state = models.CharField(max_length=9, choices=State.choices, default=State.DECLARED)
    # One plain sentence for the student where the file could not be used.
    reason = models.CharField(max_length=300, blank=True)

    declared_at = models.DateTimeField()
    declared_bytes = models.PositiveBigIntegerField()
    declared_sha256 = models.CharField(max_length=64)
    received_bytes = models.PositiveBigIntegerField(default=0)
    received_at: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )
    # By the phone's own clock, for showing beside the server's stamp.
    recorded_at: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )

    # From the start of the recorder's marker to beat 1, as the phone scheduled them; None for a file.
    lead_seconds: "models.FloatField[float | None, float | None]" = models.FloatField(null=True, blank=True)

    # Quarter notes a minute that the recorder counted off, by line: {"A": 66}. Empty for a file.
    tempos: "models.JSONField[dict[str, int], dict[str, int]]" = models.JSONField(default=dict, blank=True)

    # Names in the "takes" storage; random, and empty until they exist.
    original = models.CharField(max_length=120, blank=True)
    served = models.CharField(max_length=120, blank=True)
    served_type = models.CharField(max_length=40, blank=True)
    served_bytes = models.PositiveBigIntegerField(default=0)
    seconds: "models.FloatField[float | None, float | None]" = models.FloatField(null=True, blank=True)
    # Loudness from left to right: 0 to 100, at most 600 values.
    peaks = models.JSONField(default=list, blank=True)
    # What the check found worth saying, as codes of `submissions.preparing.findings`.
    findings = models.JSONField(default=list, blank=True)
    # Seconds from the start of the take to beat 1 where the recorder's marker was found.
    beat_one_seconds: "models.FloatField[float | None, float | None]" = models.FloatField(
        null=True, blank=True
    )

    tries = models.PositiveSmallIntegerField(default=0)
    # While it waits: when to look whether it was forgotten. While a worker holds it: until when.
    lease_until: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )

    # When its sound was deleted because its time was over.
    deleted_at: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )

    class Meta:
        ordering = ("declared_at", "pk")
        indexes: ClassVar = [
            models.Index(fields=["assignment", "seat"]),
            models.Index(fields=["state", "lease_until"]),
        ]

    def __str__(self) -> str:
        return f"Take of {self.seat} for {self.assignment}"

    def tempo_of(self, label: str, asked: int) -> int:
        """Quarter notes a minute the line was counted off at; where it was not, what is asked for."""
        return int(self.tempos.get(label, asked))
