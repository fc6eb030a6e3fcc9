"""Exercises as a director wrote them: one concert source, from which every part is computed."""

from datetime import datetime
from typing import ClassVar

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from bandroom.people.models import Band

#: What a part is made from, beside the line itself.
PARTS_NEED = ("lines", "part_choices", "band__range_choices", "band__part_policy")


class ExerciseQuerySet(models.QuerySet["Exercise"]):
    def current(self) -> "ExerciseQuerySet":
        """Exercises to choose from: not put away, and not replaced by a later version."""
        return self.filter(put_away_at__isnull=True, replaced_by__isnull=True)

    def for_parts(self) -> "ExerciseQuerySet":
        """Exercises with all that goes into their parts, so that making them asks the database nothing."""
        return self.prefetch_related(*PARTS_NEED)


class Exercise(models.Model):
    """A short piece of two lines.

    Once posted it never changes under the students who read it: an edit then makes a new
    version, and the old row points to it through `replaced_by`.
    """

    class Source(models.TextChoices):
        TYPED = "typed", "typed"
        MUSICXML = "musicxml", "MusicXML file"
        MIDI = "midi", "MIDI file"
        ABC = "abc", "ABC file"
        PATTERN = "pattern", "built from a pattern"

    band = models.ForeignKey(Band, on_delete=models.CASCADE, related_name="exercises")
    title = models.CharField(max_length=80)
    metre_beats = models.PositiveSmallIntegerField("beats in a bar", default=4)
    metre_unit = models.PositiveSmallIntegerField("beat unit", default=4)
    # Concert key as a count on the circle of fifths: -2 is two flats, B flat major.
    concert_fifths = models.SmallIntegerField(
        "concert key", default=-2, validators=[MinValueValidator(-7), MaxValueValidator(7)]
    )
    source = models.CharField(max_length=8, choices=Source.choices, default=Source.TYPED)
    created_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+"
    )
    created_at = models.DateTimeField()
    put_away_at: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )
    replaced_by = models.OneToOneField(
        "self", on_delete=models.SET_NULL, null=True, blank=True, related_name="replaces"
    )

    objects = ExerciseQuerySet.as_manager()

    class Meta:
        ordering = ("-created_at", "-pk")

    def __str__(self) -> str:
        return self.title

    def is_posted(self) -> bool:
        """Whether students may have it. Who posts it is not known here: the reverse relation tells."""
        return self.assignments.exists()


class ExerciseLine(models.Model):
    """One line of an exercise, in concert pitch."""

    exercise = models.ForeignKey(Exercise, on_delete=models.CASCADE, related_name="lines")
    label = models.CharField(max_length=2)
    order = models.PositiveSmallIntegerField()
    caption = models.CharField(max_length=40, blank=True)
    tempo_bpm = models.PositiveSmallIntegerField(
        "tempo", default=72, validators=[MinValueValidator(40), MaxValueValidator(160)]
    )
    # The music engine's own form of a line: `exercises.music.score.line_to_json`.
    score = models.JSONField()

    class Meta:
        ordering = ("order",)
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["exercise", "label"], name="line_label_once_an_exercise")
        ]

    def __str__(self) -> str:
        return f"{self.exercise}, line {self.label}"
