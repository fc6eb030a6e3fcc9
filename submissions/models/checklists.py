"""A section's own list of what to get ready before playing."""

from datetime import datetime

from django.conf import settings
from django.db import models

from bandroom.people.models import Section


class Checklist(models.Model):
    """Only where a director wrote one; else each instrument has its usual list."""

    section = models.OneToOneField(Section, on_delete=models.CASCADE, related_name="checklist")
    items: "models.JSONField[list[str], list[str]]" = models.JSONField(default=list)
    changed_at: "models.DateTimeField[datetime, datetime]" = models.DateTimeField()
    changed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+"
    )

    def __str__(self) -> str:
        return f"{self.section}: {len(self.items)} things to get ready"
