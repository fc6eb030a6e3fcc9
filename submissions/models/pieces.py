"""One piece of a take whose bytes are still arriving."""

from typing import ClassVar

from django.db import models

from submissions.models.takes import Take


class Piece(models.Model):
    """Bytes that count: they lie in the takes storage, where any machine of the school finds them.

    Once the whole file is stored its pieces have no further use; the worker deletes them, then their rows.
    """

    take = models.ForeignKey(Take, on_delete=models.CASCADE, related_name="pieces")
    # Where in the take they begin, and how many they are.
    start = models.PositiveBigIntegerField()
    bytes = models.PositiveIntegerField()
    name = models.CharField(max_length=120)
    arrived_at = models.DateTimeField()

    class Meta:
        ordering = ("start",)
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["take", "start"], name="one_piece_at_each_place_of_a_take")
        ]

    def __str__(self) -> str:
        return f"{self.bytes} bytes from {self.start} of take {self.take_id}"
