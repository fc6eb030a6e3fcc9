"""Every listen by an adult is on record."""

from typing import ClassVar

from django.conf import settings
from django.db import models

from submissions.models.takes import Take


class Listen(models.Model):
    take = models.ForeignKey(Take, on_delete=models.CASCADE, related_name="listens")
    listener = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+"
    )
    at = models.DateTimeField()

    class Meta:
        ordering = ("-at", "-pk")
        indexes: ClassVar = [models.Index(fields=["take", "listener", "at"])]

    def __str__(self) -> str:
        return f"{self.listener} listened to {self.take}"
