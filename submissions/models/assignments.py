"""An exercise posted to sections, with its deadlines."""

from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext as _

from bandroom.people.models import Band, Section
from exercises.models import Exercise
from submissions.models.rubrics import Rubric


class Routes(models.TextChoices):
    """The ways an assignment can be turned in."""

    EITHER = "either", "recording or check-in"
    RECORDING = "recording", "recording only"
    CHECK_IN = "check_in", "check-in only"


@dataclass(frozen=True, slots=True)
class Allowance:
    """Quarter notes a minute of one line: what is asked for, and from where to where it may be recorded."""

    asked: int
    slowest: int
    fastest: int

    @property
    def is_exact(self) -> bool:
        return self.slowest == self.fastest


class Assignment(models.Model):
    band = models.ForeignKey(Band, on_delete=models.CASCADE, related_name="assignments")
    # Counts up through the band's year; what everybody calls it by.
    number = models.PositiveSmallIntegerField()
    exercise = models.ForeignKey(Exercise, on_delete=models.PROTECT, related_name="assignments")
    rubric = models.ForeignKey(Rubric, on_delete=models.PROTECT, related_name="assignments")
    # Labels of the exercise's lines that are asked for, in order.
    lines = models.JSONField(default=list)
    routes = models.CharField(max_length=10, choices=Routes.choices, default=Routes.EITHER)
    # Values of Step that come before recording; students go in any order where there are none.
    first_steps = models.JSONField(default=list, blank=True)
    note = models.TextField("note to students", blank=True, max_length=2000)
    # Beats a minute for each line where it differs from the exercise's own: {"A": 66}.
    tempos = models.JSONField(default=dict, blank=True)
    # Slowest and fastest tempo of a recording, for each line not asked for exactly: {"A": [60, 80]}.
    tempo_ranges = models.JSONField(default=dict, blank=True)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+"
    )
    posted_at = models.DateTimeField()
    withdrawn_at: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )

    class Meta:
        ordering = ("-posted_at", "-pk")

    def __str__(self) -> str:
        return _("No. %(number)s, %(title)s") % {"number": self.number, "title": self.exercise.title}

    @property
    def takes_recordings(self) -> bool:
        return self.routes != Routes.CHECK_IN

    @property
    def takes_check_ins(self) -> bool:
        return self.routes != Routes.RECORDING

    def tempo_of(self, label: str, default: int) -> int:
        """Beats a minute asked for in the line `label`."""
        return int(self.tempos.get(label, default))

    def allowance_of(self, label: str, default: int) -> Allowance:
        """How far from the tempo asked for this line may be recorded; exactly at it, unless decided."""
        asked = self.tempo_of(label, default)
        slowest, fastest = self.tempo_ranges.get(label, (asked, asked))
        return Allowance(asked=asked, slowest=min(asked, int(slowest)), fastest=max(asked, int(fastest)))


class Posting(models.Model):
    """An assignment as one section has it. All times are instants; the band's clock is for showing."""

    assignment = models.ForeignKey(Assignment, on_delete=models.CASCADE, related_name="postings")
    section = models.ForeignKey(Section, on_delete=models.PROTECT, related_name="postings")
    opens_at = models.DateTimeField()
    due_at = models.DateTimeField()
    closes_at = models.DateTimeField()

    class Meta:
        ordering = ("section__period", "section__order", "section__name")
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["assignment", "section"], name="posted_once_to_a_section"),
            models.CheckConstraint(
                condition=Q(due_at__gt=F("opens_at")) & Q(closes_at__gte=F("due_at")),
                name="opens_then_due_then_closes",
            ),
        ]
        indexes: ClassVar = [models.Index(fields=["section", "due_at"])]

    def __str__(self) -> str:
        return f"{self.assignment} for {self.section}"

    def is_open(self, at: datetime) -> bool:
        """Whether takes are accepted at `at`, the closing instant itself excluded."""
        return self.opens_at <= at < self.closes_at
