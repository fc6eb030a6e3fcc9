"""Bookable times in a live meeting, and who booked them."""

import uuid
from collections.abc import Iterable
from datetime import datetime
from typing import ClassVar

from django.conf import settings
from django.core.validators import URLValidator
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from bandroom.people.models import Band, Seat, Section
from submissions.models.assignments import Assignment

#: A meeting link is opened by children: nothing but a web address.
WEB_ADDRESS = URLValidator(
    schemes=["http", "https"], message="Write the whole address of the meeting, beginning with https://."
)


class SlotQuerySet(models.QuerySet["Slot"]):
    def to_come(
        self, *, sections: Iterable[int], purposes: Iterable["Slot.Purpose"], at: datetime
    ) -> "SlotQuerySet":
        """What students of these sections can book from `at` on, full times among them, each once."""
        found = self.filter(
            sections__in=set(sections),
            purpose__in=tuple(purposes),
            starts_at__gt=at,
            cancelled_at__isnull=True,
        )
        return found.distinct().order_by("starts_at", "pk")


class Slot(models.Model):
    class Purpose(models.TextChoices):
        TURN_IN = "turn_in", "to turn in"
        HELP = "help", "for help"
        EITHER = "either", "to turn in or for help"

    #: Purposes for which a student may come.
    FOR_TURNING_IN = (Purpose.EITHER, Purpose.TURN_IN)
    FOR_HELP = (Purpose.EITHER, Purpose.HELP)

    band = models.ForeignKey(Band, on_delete=models.CASCADE, related_name="slots")
    sections = models.ManyToManyField(Section, related_name="slots")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    capacity = models.PositiveSmallIntegerField(default=1)
    # Places taken; moved only together with a booking, by conditional update: the last place goes once.
    taken = models.PositiveSmallIntegerField(default=0)
    purpose = models.CharField(max_length=8, choices=Purpose.choices, default=Purpose.EITHER)
    place = models.CharField(max_length=120, blank=True)
    # Shown only to those booked and to the band's staff.
    link = models.URLField(max_length=500, blank=True, validators=[WEB_ADDRESS])
    passcode = models.CharField(max_length=60, blank=True)
    # Slots made together share it.
    series = models.UUIDField(default=uuid.uuid4)
    made_at = models.DateTimeField(default=timezone.now)
    # Set when time or place moved after it was made; calendars count such moves (RFC 5545, SEQUENCE).
    changed_at: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )
    sequence = models.PositiveSmallIntegerField(default=0)
    # The first time a student was called, or was not there.
    opened_at: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )
    cancelled_at: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )

    objects = SlotQuerySet.as_manager()

    class Meta:
        ordering = ("starts_at", "pk")
        constraints: ClassVar = [
            models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="slot_runs_forward"),
            models.CheckConstraint(condition=Q(taken__lte=F("capacity")), name="slot_never_overbooked"),
        ]
        indexes: ClassVar = [
            models.Index(fields=["band", "starts_at"]),
            models.Index(fields=["series", "starts_at"]),
        ]

    def __str__(self) -> str:
        return f"Slot at {self.starts_at:%Y-%m-%d %H:%M} UTC"

    @property
    def takes_turn_ins(self) -> bool:
        return self.purpose in Slot.FOR_TURNING_IN

    @property
    def gives_help(self) -> bool:
        return self.purpose in Slot.FOR_HELP

    @property
    def safe_link(self) -> str:
        """What may stand in an href: a web address or nothing, however it got into the database."""
        return self.link if self.link.startswith(("https://", "http://")) else ""

    @property
    def places_left(self) -> int:
        return self.capacity - self.taken

    @property
    def minutes(self) -> int:
        return round((self.ends_at - self.starts_at).total_seconds() / 60)


class Booking(models.Model):
    class State(models.TextChoices):
        BOOKED = "booked", "booked"
        CANCELLED = "cancelled", "cancelled"
        CAME = "came", "came"
        ABSENT = "absent", "absent"

    slot = models.ForeignKey(Slot, on_delete=models.CASCADE, related_name="bookings")
    seat = models.ForeignKey(Seat, on_delete=models.CASCADE, related_name="bookings")
    # None when the student comes for help with nothing to turn in.
    assignment = models.ForeignKey(
        Assignment, on_delete=models.CASCADE, null=True, blank=True, related_name="bookings"
    )
    wants_help = models.BooleanField(default=False)
    state = models.CharField(max_length=9, choices=State.choices, default=State.BOOKED)
    booked_at = models.DateTimeField()
    changed_at = models.DateTimeField()
    # Counts moves and cancellations, for calendars; with the slot's own count it never goes back.
    sequence = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ("booked_at", "pk")
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["slot", "seat"], condition=Q(state="booked"), name="booked_once_per_slot_and_seat"
            )
        ]

    def __str__(self) -> str:
        return f"{self.seat} in {self.slot}"

    @property
    def holds(self) -> bool:
        """Whether the student is expected: booked, and the time was not cancelled."""
        return self.state == Booking.State.BOOKED and self.slot.cancelled_at is None


class CalendarFeed(models.Model):
    """A private address that shows one member's slots to a calendar program."""

    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="calendar_feeds"
    )
    band = models.ForeignKey(Band, on_delete=models.CASCADE, related_name="calendar_feeds")
    # SHA-256 of the secret in the address; the address itself is shown once, when it is made.
    secret_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()

    class Meta:
        constraints: ClassVar = [models.UniqueConstraint(fields=["user", "band"], name="one_feed_per_member")]

    def __str__(self) -> str:
        return f"Calendar feed of {self.user}"
