"""That somebody was erased: when, and by a random key, so that no backup brings them back."""

import uuid
from datetime import datetime

from django.db import models


class Erasure(models.Model):
    """One erased student of one band, without a name.

    The row says that it happened; `bandroom.people.services.erasures` writes it down outside the database as
    well, where a restored backup does not reach.
    """

    key = models.UUIDField(unique=True, default=uuid.uuid4)
    erased_at = models.DateTimeField()
    # When it was written down outside; None until then.
    noted_at: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"Erasure {self.key}"
