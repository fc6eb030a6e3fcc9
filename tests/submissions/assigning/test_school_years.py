"""Which school year a day belongs to, in a year over the new year and in one that follows the calendar."""

from datetime import date

import pytest

from bandroom.people.models import Band
from submissions.assigning.school_years import SchoolYear

NORTH = Band(
    time_zone="America/Chicago", school_year_starts=date(2026, 8, 24), school_year_ends=date(2027, 6, 11)
)
SOUTH = Band(
    time_zone="Australia/Sydney", school_year_starts=date(2026, 1, 28), school_year_ends=date(2026, 12, 16)
)
ON_LEAP_DAY = Band(
    time_zone="America/Chicago", school_year_starts=date(2027, 9, 1), school_year_ends=date(2028, 2, 29)
)


@pytest.mark.parametrize(
    ("band", "day", "label"),
    [
        (NORTH, date(2026, 8, 24), "2026–27"),
        (NORTH, date(2027, 6, 11), "2026–27"),
        (NORTH, date(2027, 6, 12), "2027–28"),
        (NORTH, date(2026, 7, 30), "2026–27"),
        (NORTH, date(2026, 6, 11), "2025–26"),
        (NORTH, date(2000, 1, 10), "1999–00"),
        (SOUTH, date(2026, 12, 16), "2026"),
        (SOUTH, date(2026, 12, 17), "2027"),
        (SOUTH, date(2027, 1, 5), "2027"),
        (ON_LEAP_DAY, date(2027, 2, 28), "2026–27"),
        (ON_LEAP_DAY, date(2027, 3, 1), "2027–28"),
    ],
)
def test_a_day_belongs_to_the_year_that_runs_or_comes_next(band, day, label):
    assert SchoolYear.of(day, band=band).label == label


def test_years_follow_each_other_without_gap_or_overlap():
    for number in range(2015, 2030):
        assert (
            SchoolYear.numbered(number, band=NORTH).until
            == SchoolYear.numbered(number + 1, band=NORTH).starts
        )
