"""When are the times of a series? "Every Tuesday at 3:30 pm, six times five minutes, for four weeks."

Weeks go by the band's clock, so that half past three stays half past three when the clock is changed;
minutes within a day go by real time. Pure computation: no request, no database.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from submissions.assigning.deadlines import Twice, instant, weeks_later

#: Of an hour that the clock shows twice the first is meant, as for every opening.
STARTING = Twice.FIRST
LONGEST_MINUTES, MOST_IN_A_ROW, MOST_WEEKS, MOST_PLACES = 180, 30, 40, 60


@dataclass(frozen=True, slots=True)
class SlotTime:
    starts_at: datetime
    ends_at: datetime


def starts(*, day: date, clock: time, zone: ZoneInfo) -> datetime:
    """The first start. NoSuchTime where the clock of `zone` jumps over it."""
    return instant(datetime.combine(day, clock), zone=zone, twice=STARTING)


def series(
    *, first_starts_at: datetime, minutes: int, count: int, weeks: int, zone: ZoneInfo
) -> tuple[SlotTime, ...]:
    """`count` times of `minutes` each, one after the other, once a week for `weeks` weeks, in order."""
    return tuple(
        slot
        for week in range(weeks)
        for slot in _in_a_row(
            weeks_later(first_starts_at, weeks=week, zone=zone, twice=STARTING) if week else first_starts_at,
            minutes=minutes,
            count=count,
        )
    )


def _in_a_row(start: datetime, *, minutes: int, count: int) -> Iterator[SlotTime]:
    length = timedelta(minutes=minutes)
    for place in range(count):
        yield SlotTime(starts_at=start + place * length, ends_at=start + (place + 1) * length)
