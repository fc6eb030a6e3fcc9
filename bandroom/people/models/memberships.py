"""What a person is in a band: director, substitute or student."""

import uuid
from datetime import datetime
from typing import ClassVar

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_noop

from bandroom.people.models.bands import Band


class Role(models.TextChoices):
    DIRECTOR = "director", gettext_noop("Director")
    SUBSTITUTE = "substitute", gettext_noop("Substitute")
    STUDENT = "student", gettext_noop("Student")


class RecordingPermission(models.TextChoices):
    """Whether a student's sound may be kept; how permission is asked is the school's policy."""

    GRANTED = "granted", "May record"
    PENDING = "pending", "Permission not in yet: check-in only"
    REFUSED = "refused", "May not record: check-in only"


class Membership(models.Model):
    band = models.ForeignKey(Band, on_delete=models.CASCADE, related_name="memberships")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="memberships")
    # Random: what stays of an erased student is this alone (see Erasure).
    key = models.UUIDField(default=uuid.uuid4, editable=False)
    role = models.CharField(max_length=12, choices=Role.choices)
    recording = models.CharField(
        max_length=8, choices=RecordingPermission.choices, default=RecordingPermission.GRANTED
    )
    # Null until a sign-in card was printed; a card printed again ends the sessions of the old one.
    card_issued_at: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )
    ended_at: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["band", "user"], name="one_membership_per_band_and_user")
        ]

    def __str__(self) -> str:
        return f"{self.user} ({self.get_role_display()})"

    @property
    def is_director(self) -> bool:
        return self.role == Role.DIRECTOR

    @property
    def is_staff(self) -> bool:
        return self.role in {Role.DIRECTOR, Role.SUBSTITUTE}

    @property
    def is_student(self) -> bool:
        return self.role == Role.STUDENT

    @property
    def may_record(self) -> bool:
        return self.recording == RecordingPermission.GRANTED
