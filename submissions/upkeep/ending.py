"""Which recordings end when: so many days after their assignment closed, by the band's policy.

No more end in a day than ever fell due on one day before: whatever else comes (a clock that jumps, a policy
that was changed), most recordings are still there on the next day, when somebody has read of it.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Count, F, Max, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce, TruncDate

from bandroom.people.models import Band
from submissions.models import Assignment, Policy, Posting, Take

A_DAY, A_WEEK = timedelta(days=1), timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Ending:
    """Recordings of one assignment that are deleted together, at the latest `at`."""

    assignment: Assignment
    takes: int
    at: datetime


def over(*, band: Band, policy: Policy, at: datetime) -> QuerySet[Take]:
    """Recordings whose time is over, the oldest first; each has `closes`."""
    ended = at - timedelta(days=policy.keep_takes_days)
    return _kept(band).filter(closes__lt=ended).order_by("closes", "pk")


def left_today(*, band: Band, at: datetime) -> int:
    """How many may still be deleted, after what was in the last day."""
    deleted = Take.objects.filter(
        assignment__band=band, deleted_at__gt=at - A_DAY, deleted_at__lte=at
    ).count()
    return max(0, most_in_a_day(band=band, at=at) - deleted)


def most_in_a_day(*, band: Band, at: datetime) -> int:
    """The most recordings, kept or deleted since, whose time began to run on one day; at least one."""
    busiest = (
        _with_closing(Take.objects.filter(assignment__band=band))
        .filter(closes__lt=at)
        .order_by()
        .values(day=TruncDate("closes", tzinfo=band.zone))
        .annotate(takes=Count("pk"))
        .order_by("-takes")
        .first()
    )
    return max(1, busiest["takes"] if busiest else 0)


def next_week(*, band: Band, policy: Policy, at: datetime) -> list[Ending]:
    """What will be deleted in the next seven days, by assignment, the soonest first. At most two queries."""
    keep = timedelta(days=policy.keep_takes_days)
    rows = list(
        _kept(band)
        .filter(closes__gte=at - keep, closes__lt=at + A_WEEK - keep)
        .order_by()
        .values("assignment")
        .annotate(takes=Count("pk"), last=Max("closes"))
        .order_by("last", "assignment")
    )
    if not rows:
        return []
    assignments = Assignment.objects.select_related("exercise").in_bulk([row["assignment"] for row in rows])
    return [Ending(assignments[row["assignment"]], row["takes"], row["last"] + keep) for row in rows]


def _kept(band: Band) -> QuerySet[Any]:
    return _with_closing(Take.objects.filter(assignment__band=band).exclude(state=Take.State.DELETED))


def _with_closing(takes: QuerySet[Take]) -> QuerySet[Any]:
    postings = Posting.objects.filter(assignment=OuterRef("assignment"))
    own = postings.filter(section=OuterRef("seat__section"))
    closes = Coalesce(
        Subquery(own.values("closes_at")[:1]),
        # Its section was taken off the assignment: no recording stays because nobody asks for it any more.
        Subquery(postings.order_by("-closes_at").values("closes_at")[:1]),
        F("declared_at"),
    )
    return takes.annotate(closes=closes)
