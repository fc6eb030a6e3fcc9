"""A school's band programme. Everything belongs to one band; nothing is visible across bands."""

from datetime import datetime
from typing import ClassVar
from zoneinfo import ZoneInfo, available_timezones

from django.core.exceptions import ValidationError
from django.db import models


def validate_time_zone(name: str) -> None:
    if name not in available_timezones():
        raise ValidationError(
            f"“{name}” is not a time zone. Choose one from the list, such as America/Chicago."
        )


class Band(models.Model):
    name = models.CharField(max_length=120)
    school = models.CharField(max_length=160, blank=True)
    time_zone = models.CharField(max_length=64, default="America/New_York", validators=[validate_time_zone])
    school_year_starts = models.DateField()
    school_year_ends = models.DateField()

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=models.Q(school_year_ends__gt=models.F("school_year_starts")),
                name="band_year_runs_forward",
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)

    def local(self, at: datetime) -> datetime:
        """`at` (aware) on the band's own clock."""
        return at.astimezone(self.zone)
