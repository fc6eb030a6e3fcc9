"""Which school year does a day belong to?

A band stores the dates of its year now. Earlier and later years are cut at the same day of summer: the day
after school ends. Work prepared in the holidays belongs to the year it is prepared for.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Self

from bandroom.people.models import Band
from submissions.assigning.deadlines import day_starts


@dataclass(frozen=True, slots=True)
class SchoolYear:
    """From `starts` up to, not including, `until`. `number` is the calendar year that school begins in."""

    number: int
    label: str
    starts: date
    until: date

    def span(self, *, band: Band) -> tuple[datetime, datetime]:
        """The year's first instant, and the first of the next year."""
        return day_starts(self.starts, zone=band.zone), day_starts(self.until, zone=band.zone)

    @classmethod
    def numbered(cls, number: int, *, band: Band) -> Self:
        ends = number + band.school_year_ends.year - band.school_year_starts.year
        return cls(
            number=number,
            label=str(number) if ends == number else f"{number}–{ends % 100:02d}",
            starts=_day_after_school(ends - 1, band=band),
            until=_day_after_school(ends, band=band),
        )

    @classmethod
    def of(cls, day: date, *, band: Band) -> Self:
        guess = cls.numbered(day.year, band=band)
        if day < guess.starts:
            return cls.numbered(day.year - 1, band=band)
        if day >= guess.until:
            return cls.numbered(day.year + 1, band=band)
        return guess


def current_year(*, band: Band, at: datetime) -> SchoolYear:
    return SchoolYear.of(band.local(at).date(), band=band)


def _day_after_school(year: int, *, band: Band) -> date:
    ends = band.school_year_ends
    day = 28 if (ends.month, ends.day) == (2, 29) else ends.day
    return date(year, ends.month, day) + timedelta(days=1)
