"""The paper a school prints on."""

from django.db import models


class Paper(models.TextChoices):
    LETTER = "letter", "Letter (8½ × 11 in)"
    A4 = "a4", "A4 (210 × 297 mm)"

    @classmethod
    def usual_in(cls, time_zone: str) -> "Paper":
        """Letter in the Americas and Hawaii, A4 elsewhere; common practice, no source."""
        return cls.LETTER if time_zone.startswith(("America/", "US/", "Pacific/Honolulu")) else cls.A4
