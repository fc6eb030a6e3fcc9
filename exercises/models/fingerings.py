"""Which fingerings a director has said yes to: students see no others."""

from datetime import datetime
from typing import Any, ClassVar

from django.conf import settings
from django.db import models

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band


class FingeringChoice(models.Model):
    """A director's word on one row of an instrument's fingering table."""

    band = models.ForeignKey(Band, on_delete=models.CASCADE, related_name="fingering_choices")
    instrument = models.CharField(max_length=20, choices=Instrument.choices)
    # The row of the engine's table: the written pitch as a MIDI number, so that B flat and A sharp share it.
    midi_written = models.PositiveSmallIntegerField()
    confirmed_at: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )
    confirmed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+"
    )
    # What the director corrected: names of the keys, or valves, or a position; empty keeps the table's own.
    own_fingering: "models.JSONField[Any, Any]" = models.JSONField(default=list, blank=True)
    # A further way to play the note, in the director's words and keys; empty when there is none.
    own_alternate: "models.JSONField[Any, Any]" = models.JSONField(default=list, blank=True)
    own_alternate_when = models.CharField(max_length=200, blank=True)
    hint = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ("instrument", "midi_written")
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["band", "instrument", "midi_written"], name="one_word_per_fingering"
            )
        ]

    def __str__(self) -> str:
        return f"{self.band}: {self.instrument} {self.midi_written}"
