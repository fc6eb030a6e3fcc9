"""Half past three stays half past three. Dates of clock changes are those of the IANA time zone database."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from submissions.assigning.deadlines import NoSuchTime
from submissions.checkins import times

CHICAGO = ZoneInfo("America/Chicago")


def test_one_time_is_one_time():
    start = datetime(2026, 10, 6, 20, 30, tzinfo=UTC)

    assert times.series(first_starts_at=start, minutes=5, count=1, weeks=1, zone=CHICAGO) == (
        times.SlotTime(starts_at=start, ends_at=start + timedelta(minutes=5)),
    )


def test_every_tuesday_at_half_past_three_for_four_weeks_over_the_end_of_summer_time():
    """Summer time ends in Chicago on Sunday 1 November 2026."""
    first = times.starts(day=date(2026, 10, 20), clock=time(15, 30), zone=CHICAGO)

    made = times.series(first_starts_at=first, minutes=5, count=2, weeks=4, zone=CHICAGO)

    assert [f"{slot.starts_at.astimezone(CHICAGO):%m-%d %H:%M}" for slot in made] == [
        *("10-20 15:30", "10-20 15:35", "10-27 15:30", "10-27 15:35"),
        *("11-03 15:30", "11-03 15:35", "11-10 15:30", "11-10 15:35"),
    ]
    assert [slot.starts_at.astimezone(UTC).hour for slot in made] == [20, 20, 20, 20, 21, 21, 21, 21]
    assert {slot.ends_at - slot.starts_at for slot in made} == {timedelta(minutes=5)}


def test_and_over_its_beginning():
    """Summer time begins in Chicago on Sunday 14 March 2027."""
    first = times.starts(day=date(2027, 3, 9), clock=time(7, 35), zone=CHICAGO)

    made = times.series(first_starts_at=first, minutes=10, count=1, weeks=2, zone=CHICAGO)

    assert [slot.starts_at.astimezone(UTC).hour for slot in made] == [13, 12]


def test_minutes_run_on_through_the_hour_that_is_skipped_or_repeated():
    before_jump = datetime(2027, 3, 14, 7, 50, tzinfo=UTC)  # 1:50 am in Chicago
    in_repeat = datetime(2026, 11, 1, 6, 50, tzinfo=UTC)  # 1:50 am for the first time

    jumped = times.series(first_starts_at=before_jump, minutes=10, count=2, weeks=1, zone=CHICAGO)
    repeated = times.series(first_starts_at=in_repeat, minutes=10, count=2, weeks=1, zone=CHICAGO)

    assert [f"{slot.starts_at.astimezone(CHICAGO):%H:%M}" for slot in jumped] == ["01:50", "03:00"]
    assert [f"{slot.starts_at.astimezone(CHICAGO):%H:%M}" for slot in repeated] == ["01:50", "01:00"]


def test_a_first_time_that_the_clock_jumps_over_is_refused():
    with pytest.raises(NoSuchTime, match="there is no 2:30 am; choose 3:00 am or later"):
        times.starts(day=date(2027, 3, 14), clock=time(2, 30), zone=CHICAGO)


def test_a_later_one_takes_the_end_of_the_jump():
    first = times.starts(day=date(2027, 3, 7), clock=time(2, 30), zone=CHICAGO)

    made = times.series(first_starts_at=first, minutes=5, count=1, weeks=3, zone=CHICAGO)

    assert [f"{slot.starts_at.astimezone(CHICAGO):%H:%M}" for slot in made] == ["02:30", "03:00", "02:30"]
