"""What the school decides; every default is mild and every one can be changed."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from bandroom.people.models import Band


class Policy(models.Model):
    class Redo(models.TextChoices):
        BEST = "best", "the best attempt counts"
        LAST = "last", "the last attempt counts"

    band = models.OneToOneField(Band, on_delete=models.CASCADE, related_name="policy")
    grace_minutes = models.PositiveSmallIntegerField(
        default=10,
        validators=[MaxValueValidator(24 * 60)],
        help_text="Minutes after due that still count as on time.",
    )
    trust_phone_time = models.BooleanField(
        default=False,
        help_text="Count a take as on time by the phone's own clock when it had no network. "
        "You see both times either way.",
    )
    redo = models.CharField(max_length=4, choices=Redo.choices, default=Redo.BEST)
    keep_takes_days = models.PositiveSmallIntegerField(
        default=120,
        validators=[MinValueValidator(1), MaxValueValidator(730)],
        help_text="Recordings are deleted this many days after an assignment closes. Marks stay.",
    )

    def __str__(self) -> str:
        return f"Policy of {self.band}"
