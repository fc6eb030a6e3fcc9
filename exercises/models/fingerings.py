"""Which fingerings a director has said yes to: students see no others, but for the computed ones."""

from datetime import datetime
from typing import Any, ClassVar

from django.conf import settings
from django.db import models

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band

ROW_ID_LENGTH = 60


class FingeringChoice(models.Model):
    """A director's word on one row of an instrument's fingering table, or a row of the director's own."""

    band = models.ForeignKey(Band, on_delete=models.CASCADE, related_name="fingering_choices")
    instrument = models.CharField(max_length=20, choices=Instrument.choices)
    # The engine's name of the row, such as "saxophone:66:primary"; a choice it does not know is an alternate
    # of the director's own.
    row_id = models.CharField(max_length=ROW_ID_LENGTH)
    confirmed_at: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )
    confirmed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+"
    )
    # Keys, valves or a position as the director corrected them; null leaves the table's own.
    own_keys: "models.JSONField[Any, Any]" = models.JSONField(null=True, blank=True)
    own_when = models.CharField(max_length=200, blank=True)
    hint = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ("instrument", "row_id")
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["band", "instrument", "row_id"], name="one_word_per_fingering")
        ]

    def __str__(self) -> str:
        return f"{self.band}: {self.instrument}, {self.row_id}"
