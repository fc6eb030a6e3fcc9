"""One student's answer to one assignment."""

from datetime import datetime
from typing import ClassVar

from django.conf import settings
from django.db import models

from bandroom.people.models import Seat
from submissions.models.assignments import Assignment, Posting
from submissions.models.takes import Take


class TurnIn(models.Model):
    """Made when a student turns something in, or when the director excuses or marks live.

    A seat without a row has nothing in; whether that is "not yet" or "missing" depends on the clock
    alone and is never stored. The same holds for "late": it follows from `turned_in_at` and due.
    """

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        RETURNED = "returned", "marked"
        REDO = "redo", "play again"
        EXCUSED = "excused", "excused"
        # An excuse taken back, or takes withdrawn: a row, but nothing in.
        EMPTY = "empty", "not in"

    class Route(models.TextChoices):
        RECORDING = "recording", "recording"
        CHECK_IN = "check_in", "check-in"
        PAPER = "paper", "on paper"

    assignment = models.ForeignKey(Assignment, on_delete=models.CASCADE, related_name="turn_ins")
    posting = models.ForeignKey(Posting, on_delete=models.CASCADE, related_name="turn_ins")
    seat = models.ForeignKey(Seat, on_delete=models.CASCADE, related_name="turn_ins")
    state = models.CharField(max_length=8, choices=State.choices)
    route = models.CharField(max_length=10, choices=Route.choices, blank=True)
    # Counts up each time a student plays again after a return; marks belong to an attempt.
    attempt = models.PositiveSmallIntegerField(default=1)
    # The server's stamp of the declaration, not of the last byte.
    turned_in_at: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )
    # The stamp of the first attempt: what lateness is judged by, however often a student plays again.
    first_in_at: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )
    # What the phone's own clock said when there was no network; shown beside the stamp, never instead of it.
    phone_time: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )
    # The director's own decision on lateness, where it differs from the rule.
    counts_as_on_time: "models.BooleanField[bool | None, bool | None]" = models.BooleanField(
        null=True, blank=True
    )
    excuse = models.CharField(max_length=200, blank=True)
    state_changed_at = models.DateTimeField()
    state_changed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["assignment", "seat"], name="one_turn_in_per_assignment_and_seat")
        ]
        indexes: ClassVar = [models.Index(fields=["assignment", "state"]), models.Index(fields=["seat"])]

    def __str__(self) -> str:
        return f"{self.seat}: {self.assignment}"


class CountingTake(models.Model):
    """The take that counts for one line of one attempt."""

    turn_in = models.ForeignKey(TurnIn, on_delete=models.CASCADE, related_name="counting")
    attempt = models.PositiveSmallIntegerField()
    line = models.CharField(max_length=2)
    take = models.ForeignKey(Take, on_delete=models.CASCADE, related_name="counts_for")
    # Takes of this line that counted before, the newest last, by their ids: what to fall back to.
    earlier: "models.JSONField[list[str], list[str]]" = models.JSONField(default=list, blank=True)
    # The take turned in later that could not be played, so that this one counts again.
    instead_of = models.ForeignKey(Take, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["turn_in", "attempt", "line"], name="one_counting_take_per_line")
        ]

    def __str__(self) -> str:
        return f"{self.turn_in}, line {self.line}"
