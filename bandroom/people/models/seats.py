"""A student's place in a section, with an instrument and dates.

A student who changes instrument gets a new seat; the old one ends and keeps its history.
"""

from datetime import date
from typing import ClassVar, Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from bandroom.people.instruments import Instrument
from bandroom.people.models.sections import Section


class SeatQuerySet(models.QuerySet["Seat"]):
    def on(self, day: date) -> Self:
        """Seats taken on `day`, both dates included."""
        return self.filter(Q(until__isnull=True) | Q(until__gte=day), since__lte=day)

    def in_score_order(self) -> Self:
        return self.order_by(
            "section__period", "section__order", "student__last_name", "student__first_name", "pk"
        )


class Seat(models.Model):
    section = models.ForeignKey(Section, on_delete=models.PROTECT, related_name="seats")
    student = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="seats")
    instrument = models.CharField(max_length=20, choices=Instrument.choices)
    since = models.DateField()
    until: "models.DateField[date | None, date | None]" = models.DateField(null=True, blank=True)

    objects = SeatQuerySet.as_manager()

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["section", "student"],
                condition=Q(until__isnull=True),
                name="one_open_seat_per_section",
            ),
            models.CheckConstraint(
                condition=Q(until__isnull=True) | Q(until__gte=F("since")), name="seat_dates_in_order"
            ),
        ]
        indexes: ClassVar = [models.Index(fields=["student", "until"])]

    def __str__(self) -> str:
        return f"{self.student}, {self.get_instrument_display()}"

    @property
    def is_pitched(self) -> bool:
        return Instrument(self.instrument).is_pitched
