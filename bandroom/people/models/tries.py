"""Wrong tries at the door, counted and forgotten again."""

from django.db import models


class WrongTries(models.Model):
    """How much of its room one account, network or browser has used up; see `bandroom.people.throttle`.

    `counted` is a hash: neither a name nor an address stands here.
    """

    counted = models.CharField(max_length=64, primary_key=True)
    used = models.FloatField()
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.used:.0f} wrong tries until {self.at:%Y-%m-%d %H:%M}"
