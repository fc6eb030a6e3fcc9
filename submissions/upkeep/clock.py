"""Whether today is today. A clock that jumps forward would end the time of every recording at once.

The worker looks at the clock every few seconds and writes down what it saw. A day or more between two looks
means that the computer stood still or that its clock was put forward: nothing is deleted then until somebody
says that today is right, or until the clock has gone on evenly for a week in which a director read of it.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Max

from bandroom.people.models import User
from submissions.models import ClockWatch, Listen, Take

LONGEST_STEP = timedelta(days=1)
BELIEVED_AFTER = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class Doubt:
    """The last moment that was believed, and what the clock said next, believed on `believed_on`."""

    before: datetime
    after: datetime

    @property
    def believed_on(self) -> datetime:
        return self.after + BELIEVED_AFTER


@transaction.atomic
def look(*, at: datetime) -> Doubt | None:
    """Look at the clock; None where it is believed. Safe to call at any time."""
    watch = ClockWatch.objects.select_for_update().first()
    if watch is None:
        watch = ClockWatch(believed_at=_newest_row() or at, looked_at=_newest_row() or at)
    if at - watch.looked_at > LONGEST_STEP and at - watch.believed_at > LONGEST_STEP:
        watch.doubted_since = at
    elif watch.doubted_since is None or _is_over(watch, at=at):
        watch.doubted_since, watch.believed_at = None, at
    watch.looked_at = at
    watch.save()
    return _doubt(watch)


def doubt() -> Doubt | None:
    """What the last look found."""
    watch = ClockWatch.objects.first()
    return None if watch is None else _doubt(watch)


@transaction.atomic
def believe(*, at: datetime) -> None:
    """Somebody says that today is right."""
    watch = ClockWatch.objects.select_for_update().first() or ClockWatch()
    watch.believed_at = watch.looked_at = at
    watch.doubted_since = None
    watch.save()


def _doubt(watch: ClockWatch) -> Doubt | None:
    return None if watch.doubted_since is None else Doubt(watch.believed_at, watch.doubted_since)


def _is_over(watch: ClockWatch, *, at: datetime) -> bool:
    """The clock was put back, or went on evenly for long enough."""
    since = watch.doubted_since or at
    return at - watch.believed_at <= LONGEST_STEP or at - since >= BELIEVED_AFTER


def _newest_row() -> datetime | None:
    """When somebody last did something here, for a database that no worker looked at the clock in yet."""
    moments = (
        Take.objects.aggregate(at=Max("declared_at"))["at"],
        Listen.objects.aggregate(at=Max("at"))["at"],
        User.objects.aggregate(at=Max("last_login"))["at"],
    )
    return max((moment for moment in moments if moment is not None), default=None)
