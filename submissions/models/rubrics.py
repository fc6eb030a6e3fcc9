"""What is judged in a line, on which scale, in the director's own words."""

from datetime import datetime
from typing import ClassVar

from django.db import models

from bandroom.people.models import Band


class Rubric(models.Model):
    """A set of criteria. Once a mark was given with it, an edit makes a copy instead."""

    band = models.ForeignKey(Band, on_delete=models.CASCADE, related_name="rubrics")
    name = models.CharField(max_length=80)
    created_at = models.DateTimeField()
    put_away_at: "models.DateTimeField[datetime | None, datetime | None]" = models.DateTimeField(
        null=True, blank=True
    )

    class Meta:
        ordering = ("name", "-created_at", "-pk")

    def __str__(self) -> str:
        return self.name


class Criterion(models.Model):
    rubric = models.ForeignKey(Rubric, on_delete=models.CASCADE, related_name="criteria")
    name = models.CharField(max_length=60)
    order = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ("order",)
        verbose_name_plural = "criteria"
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["rubric", "name"], name="criterion_name_once_a_rubric"),
        ]

    def __str__(self) -> str:
        return self.name


class Level(models.Model):
    """One step of a criterion. "Not yet" is no level: it is the absence of one."""

    criterion = models.ForeignKey(Criterion, on_delete=models.CASCADE, related_name="levels")
    value = models.PositiveSmallIntegerField()
    words = models.CharField(max_length=120)

    class Meta:
        ordering = ("value",)
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["criterion", "value"], name="level_value_once_a_criterion"),
        ]

    def __str__(self) -> str:
        return f"{self.value}: {self.words}"
