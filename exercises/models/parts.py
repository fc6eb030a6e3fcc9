"""What a director decided about parts: ranges of a band and of a seat, octaves, notes left out or played
otherwise."""

from datetime import datetime
from typing import Any, ClassVar

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Seat
from exercises.models.exercises import Exercise
from exercises.music.instruments import Range, Ranges


class PartChoice(models.Model):
    """A director's decision about one instrument's part of an exercise."""

    exercise = models.ForeignKey(Exercise, on_delete=models.CASCADE, related_name="part_choices")
    instrument = models.CharField(max_length=20, choices=Instrument.choices)
    # Octave shift against the plain transposition; None leaves the choice to the engine.
    octave: "models.SmallIntegerField[int | None, int | None]" = models.SmallIntegerField(
        null=True, blank=True
    )
    accepted_outside = models.BooleanField(default=False)
    # Notes this part rests on, as indexes into the line: {"A": [3, 5]}.
    left_out = models.JSONField(default=dict, blank=True)
    # Written pitches to play in place of the line's own, by index: {"A": {"3": "Bb4"}}.
    instead = models.JSONField(default=dict, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["exercise", "instrument"], name="one_choice_per_part")
        ]

    def __str__(self) -> str:
        return f"{self.exercise}: {self.instrument}"


class WrittenRange(models.Model):
    """What somebody can reach this month, in written pitch ("Bb4"), and who said so."""

    easy_low = models.CharField(max_length=4)
    easy_high = models.CharField(max_length=4)
    low = models.CharField(max_length=4)
    high = models.CharField(max_length=4)
    changed_at: "models.DateTimeField[datetime, datetime]" = models.DateTimeField()
    changed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+"
    )

    class Meta:
        abstract = True

    @property
    def ranges(self) -> Ranges:
        return Ranges(Range.parse(self.easy_low, self.easy_high), Range.parse(self.low, self.high))


class RangeChoice(WrittenRange):
    """The range of one band's players of an instrument."""

    band = models.ForeignKey(Band, on_delete=models.CASCADE, related_name="range_choices")
    instrument = models.CharField(max_length=20, choices=Instrument.choices)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["band", "instrument"], name="one_range_per_instrument")
        ]

    def __str__(self) -> str:
        return f"{self.band}: {self.instrument} from {self.low} to {self.high}"


class SeatRange(WrittenRange):
    """One student's own range, on the instrument of this seat.

    The part stays that of the section: the range only says what of it this student does not reach yet. Staff
    see it; no student's page does.
    """

    seat = models.OneToOneField(Seat, on_delete=models.CASCADE, related_name="own_range")

    def __str__(self) -> str:
        return f"{self.seat} from {self.low} to {self.high}"


def first_switches() -> list[str]:
    """What is on where a band has said nothing."""
    return ["sticking"]


class PartPolicy(models.Model):
    """How this band's parts are made and taught; a band without a row has the defaults."""

    band = models.OneToOneField(Band, on_delete=models.CASCADE, related_name="part_policy")
    courtesy_signs = models.BooleanField(
        "reminder signs",
        default=True,
        help_text="A sign in parentheses where a bar line has ended the sign before it.",
    )
    key_limit = models.PositiveSmallIntegerField(
        "most sharps or flats",
        default=5,
        validators=[MinValueValidator(3), MaxValueValidator(7)],
        help_text="A part with more is written in the key that sounds the same.",
    )
    # Names of the alternate fingerings' switches that are on; the engine's table says which there are.
    switches: "models.JSONField[Any, Any]" = models.JSONField(default=first_switches, blank=True)

    def __str__(self) -> str:
        return f"Parts of {self.band}"
