"""Questions about exercises that more than one page asks."""

from django.db.models import Count

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Seat
from exercises.models import Exercise, ExerciseQuerySet


def listed(*, band: Band, away: bool) -> ExerciseQuerySet:
    """Exercises of the band to choose from, or those put away, with their lines and how often each was
    posted (`times_posted`)."""
    kept = Exercise.objects.filter(band=band, replaced_by__isnull=True, put_away_at__isnull=not away)
    counted = kept.annotate(times_posted=Count("assignments", distinct=True))
    return counted.order_by("-created_at", "-pk").prefetch_related("lines")


def seated_instruments(*, band: Band) -> frozenset[Instrument]:
    """Instruments that somebody in the band plays or has played this year."""
    ids = Seat.objects.filter(section__band=band, until__isnull=True).values_list("instrument", flat=True)
    return frozenset(Instrument(each) for each in ids.distinct())
