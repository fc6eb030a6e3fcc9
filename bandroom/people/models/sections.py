"""A group that work is posted to together, such as the clarinets of period 2."""

from typing import ClassVar

from django.db import models

from bandroom.people.models.bands import Band


class Section(models.Model):
    band = models.ForeignKey(Band, on_delete=models.CASCADE, related_name="sections")
    name = models.CharField(max_length=60)
    period = models.CharField("class period", max_length=30, blank=True)
    # Score order: flutes first, percussion last.
    order = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ("period", "order", "name")
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["band", "name", "period"], name="section_name_once_a_period")
        ]

    def __str__(self) -> str:
        return f"{self.name}, period {self.period}" if self.period else self.name
