"""Recordings that have arrived and wait to be made playable."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count, Min

from bandroom.people.models import Band
from submissions.models import Take

LONG = timedelta(minutes=10)
ON_THEIR_WAY = (Take.State.RECEIVED, Take.State.PREPARING)


@dataclass(frozen=True, slots=True)
class Waiting:
    takes: int
    since: datetime


def waiting_long(*, at: datetime, band: Band | None = None) -> Waiting | None:
    """How many have waited for more than ten minutes, and the oldest since when; None where none has."""
    takes = Take.objects.filter(state__in=ON_THEIR_WAY, received_at__lt=at - LONG)
    if band is not None:
        takes = takes.filter(assignment__band=band)
    found = takes.aggregate(takes=Count("pk"), since=Min("received_at"))
    return Waiting(found["takes"], found["since"]) if found["takes"] else None
