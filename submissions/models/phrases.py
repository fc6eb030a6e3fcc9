"""The director's own bank of phrases for notes to students."""

from django.db import models

from bandroom.people.models import Band


class Phrase(models.Model):
    class Kind(models.TextChoices):
        WORKED = "worked", "one thing that worked"
        NEXT_STEP = "next_step", "next step"

    band = models.ForeignKey(Band, on_delete=models.CASCADE, related_name="phrases")
    kind = models.CharField(max_length=9, choices=Kind.choices)
    label = models.CharField(max_length=30)
    text = models.CharField(max_length=300)
    order = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ("kind", "order", "pk")

    def __str__(self) -> str:
        return self.label
