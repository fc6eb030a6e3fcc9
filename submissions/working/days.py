"""The days up to a deadline, as a row of bars: today filled, the due day closed by a double bar."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bandroom.people.models import Band

MOST_DAYS = 6


@dataclass(frozen=True, slots=True)
class Day:
    date: date
    is_today: bool
    is_due: bool
    is_past: bool


def days_to_due(*, due_at: datetime, band: Band, at: datetime) -> tuple[Day, ...]:
    """At most six days on the band's calendar, from yesterday to the day after due.

    A deadline further away than that shows the days next to it, without today; one that has
    passed shows none, since there is nothing left to count.
    """
    today, due = band.local(at).date(), band.local(due_at).date()
    if at > due_at:
        return ()
    last = due + timedelta(days=1)
    first = max(min(today, due - timedelta(days=1)), last - timedelta(days=MOST_DAYS - 1))
    count = (last - first).days + 1
    return tuple(
        Day(date=day, is_today=day == today, is_due=day == due, is_past=day < today)
        for day in (first + timedelta(days=n) for n in range(count))
    )
