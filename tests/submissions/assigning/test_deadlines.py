"""Times on the band's clock around both changes, in a zone that moves an hour and one that moves a half."""

import os
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from submissions.assigning.deadlines import (
    CLOSING,
    DUE,
    OPENING,
    NoSuchTime,
    Twice,
    Window,
    comes_twice,
    day_starts,
    instant,
    jump_at,
    monday_of,
    usual_window,
    wall_clock,
    weeks_later,
)

CHICAGO = ZoneInfo("America/Chicago")
LORD_HOWE = ZoneInfo("Australia/Lord_Howe")


def wall(text: str) -> datetime:
    """A time as a clock on a wall shows it, without time zone."""
    return datetime.fromisoformat(text)


def utc(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=UTC)  # type: ignore[arg-type, misc]


# Chicago: the Energy Policy Act of 2005, section 110 (15 U.S.C. 260a): from 2 am on the second Sunday of
# March to 2 am on the first Sunday of November. Standard time is UTC-6. In 2026: 8 March and 1 November.
# Lord Howe Island: the `australasia` file of the IANA time zone database: from 2 am on the first Sunday of
# October to 2 am on the first Sunday of April the clock is half an hour on. Standard time is UTC+10:30.
@pytest.mark.parametrize(
    ("zone", "shown", "expected"),
    [
        (CHICAGO, wall("2026-03-08 01:59"), utc(2026, 3, 8, 7, 59)),
        (CHICAGO, wall("2026-03-08 03:00"), utc(2026, 3, 8, 8, 0)),
        (CHICAGO, wall("2026-03-05 20:00"), utc(2026, 3, 6, 2, 0)),
        (CHICAGO, wall("2026-03-12 20:00"), utc(2026, 3, 13, 1, 0)),
        (CHICAGO, wall("2026-11-01 00:59"), utc(2026, 11, 1, 5, 59)),
        (CHICAGO, wall("2026-11-01 02:00"), utc(2026, 11, 1, 8, 0)),
        (CHICAGO, wall("2026-10-29 20:00"), utc(2026, 10, 30, 1, 0)),
        (CHICAGO, wall("2026-11-05 20:00"), utc(2026, 11, 6, 2, 0)),
        (LORD_HOWE, wall("2026-10-04 01:59"), utc(2026, 10, 3, 15, 29)),
        (LORD_HOWE, wall("2026-10-04 02:30"), utc(2026, 10, 3, 15, 30)),
        (LORD_HOWE, wall("2026-04-05 01:29"), utc(2026, 4, 4, 14, 29)),
        (LORD_HOWE, wall("2026-04-05 02:00"), utc(2026, 4, 4, 15, 30)),
    ],
)
@pytest.mark.parametrize("twice", Twice)
def test_around_a_change_a_time_shown_once_is_one_instant(zone, shown, expected, twice):
    assert instant(shown, zone=zone, twice=twice) == expected
    assert not comes_twice(shown, zone=zone)


@pytest.mark.parametrize(
    ("zone", "shown", "first", "second"),
    [
        (CHICAGO, wall("2026-11-01 01:00"), utc(2026, 11, 1, 6, 0), utc(2026, 11, 1, 7, 0)),
        (CHICAGO, wall("2026-11-01 01:59"), utc(2026, 11, 1, 6, 59), utc(2026, 11, 1, 7, 59)),
        (LORD_HOWE, wall("2026-04-05 01:30"), utc(2026, 4, 4, 14, 30), utc(2026, 4, 4, 15, 0)),
        (LORD_HOWE, wall("2026-04-05 01:59"), utc(2026, 4, 4, 14, 59), utc(2026, 4, 4, 15, 29)),
    ],
)
def test_a_time_shown_twice_opens_at_the_first_and_is_due_and_closes_at_the_second(
    zone, shown, first, second
):
    assert comes_twice(shown, zone=zone)
    assert instant(shown, zone=zone, twice=OPENING) == first
    assert instant(shown, zone=zone, twice=DUE) == second
    assert instant(shown, zone=zone, twice=CLOSING) == second


@pytest.mark.parametrize(
    ("zone", "shown", "sentence"),
    [
        (
            CHICAGO,
            wall("2026-03-08 02:00"),
            "The clock jumps from 2:00 am to 3:00 am on Sunday 8 March, so there is no 2:00 am; "
            "choose 3:00 am or later.",
        ),
        (
            CHICAGO,
            wall("2026-03-08 02:59"),
            "The clock jumps from 2:00 am to 3:00 am on Sunday 8 March, so there is no 2:59 am; "
            "choose 3:00 am or later.",
        ),
        (
            LORD_HOWE,
            wall("2026-10-04 02:15"),
            "The clock jumps from 2:00 am to 2:30 am on Sunday 4 October, so there is no 2:15 am; "
            "choose 2:30 am or later.",
        ),
    ],
)
@pytest.mark.parametrize("twice", Twice)
def test_a_time_that_is_jumped_over_is_refused_in_one_sentence(zone, shown, sentence, twice):
    with pytest.raises(NoSuchTime) as caught:
        instant(shown, zone=zone, twice=twice)
    assert str(caught.value) == sentence


def test_a_clock_that_jumps_at_midnight_still_has_a_first_instant_of_the_day():
    # Paraguay, 1 October 2017, UTC-4 to UTC-3 at midnight: `southamerica` file of the IANA database.
    asuncion = ZoneInfo("America/Asuncion")
    assert day_starts(date(2017, 10, 1), zone=asuncion) == utc(2017, 10, 1, 4, 0)
    assert wall_clock(utc(2017, 10, 1, 4, 0), zone=asuncion) == wall("2017-10-01 01:00")
    assert wall_clock(utc(2017, 10, 1, 3, 59), zone=asuncion) == wall("2017-09-30 23:59")


@pytest.fixture
def c_library_zone() -> Iterator[Callable[[str], None]]:
    """Makes the C library read one zone's clock; put back afterwards."""
    before = os.environ.get("TZ")

    def use(name: str) -> None:
        os.environ["TZ"] = name
        time.tzset()

    yield use
    if before is None:
        os.environ.pop("TZ", None)
    else:
        os.environ["TZ"] = before
    time.tzset()


@pytest.mark.parametrize(
    "name", ["America/Chicago", "Australia/Lord_Howe", "America/Phoenix", "Europe/Dublin", "Pacific/Apia"]
)
def test_every_half_hour_of_a_year_is_read_as_the_c_library_reads_it(c_library_zone, name):
    # mktime(3) of the C library: its own reader of the time zone database, with tm_isdst left to it.
    c_library_zone(name)
    zone = ZoneInfo(name)
    shown = wall("2026-01-01 00:00")
    compared = 0
    while shown.year == 2026:
        if jump_at(shown, zone=zone) is None and not comes_twice(shown, zone=zone):
            seconds = time.mktime((*shown.timetuple()[:8], -1))
            assert instant(shown, zone=zone, twice=Twice.FIRST).timestamp() == seconds, shown
            compared += 1
        shown += timedelta(minutes=30)
    assert compared >= 365 * 48 - 4


moments = st.datetimes(wall("2024-01-01 00:00"), wall("2032-01-01 00:00")).map(
    lambda moment: moment.replace(tzinfo=UTC)
)
zones = st.sampled_from(["America/Chicago", "Australia/Lord_Howe", "Europe/Dublin", "Asia/Kolkata"]).map(
    ZoneInfo
)


@given(at=moments, zone=zones)
def test_what_the_clock_shows_is_read_back_as_the_same_instant(at, zone):
    at = at.replace(second=0, microsecond=0)
    wall = wall_clock(at, zone=zone)
    assert at in {instant(wall, zone=zone, twice=twice) for twice in Twice}


@given(at=moments, zone=zones, weeks=st.integers(1, 60))
def test_a_week_later_is_the_same_weekday_and_time_on_the_clock(at, zone, weeks):
    wanted = wall_clock(at, zone=zone) + timedelta(weeks=weeks)
    assume(jump_at(wanted, zone=zone) is None)
    assert wall_clock(weeks_later(at, weeks=weeks, zone=zone, twice=DUE), zone=zone) == wanted


@given(early=moments, late=moments, zone=zones)
def test_a_week_later_never_turns_two_deadlines_round(early, late, zone):
    early, late = sorted((early, late))
    moved = [weeks_later(at, weeks=1, zone=zone, twice=DUE) for at in (early, late)]
    assert moved == sorted(moved)


@pytest.mark.parametrize(
    ("before", "after", "hours"),
    [
        (utc(2026, 3, 6, 2, 0), utc(2026, 3, 13, 1, 0), 7 * 24 - 1),  # Thursday 8 pm over the spring change
        (utc(2026, 10, 30, 1, 0), utc(2026, 11, 6, 2, 0), 7 * 24 + 1),  # and over the autumn change
    ],
)
def test_eight_in_the_evening_stays_eight_in_the_evening(before, after, hours):
    assert weeks_later(before, weeks=1, zone=CHICAGO, twice=DUE) == after
    assert after - before == timedelta(hours=hours)


def test_a_week_later_that_is_jumped_over_is_the_first_moment_after_the_jump():
    sunday = instant(wall("2026-03-01 02:30"), zone=CHICAGO, twice=DUE)
    assert weeks_later(sunday, weeks=1, zone=CHICAGO, twice=DUE) == utc(2026, 3, 8, 8, 0)


@pytest.mark.parametrize(
    ("now", "due", "closes"),
    [
        # Tuesday afternoon
        (utc(2026, 10, 6, 20, 0), utc(2026, 10, 9, 1, 0), utc(2026, 10, 12, 1, 0)),
        # Thursday morning: next Thursday, not tonight
        (utc(2026, 10, 8, 15, 0), utc(2026, 10, 16, 1, 0), utc(2026, 10, 19, 1, 0)),
        # Wednesday 11 pm in the band is Thursday in UTC, and tomorrow is still Thursday
        (utc(2026, 10, 8, 4, 0), utc(2026, 10, 9, 1, 0), utc(2026, 10, 12, 1, 0)),
        # The autumn change lies between due and closing
        (utc(2026, 10, 27, 20, 0), utc(2026, 10, 30, 1, 0), utc(2026, 11, 2, 2, 0)),
    ],
)
def test_the_usual_window_is_now_next_thursday_and_the_sunday_after(now, due, closes):
    assert usual_window(zone=CHICAGO, at=now) == Window(opens_at=now, due_at=due, closes_at=closes)


def test_the_usual_window_opens_at_a_whole_minute():
    assert usual_window(zone=CHICAGO, at=utc(2026, 10, 6, 20, 0, 41)).opens_at == utc(2026, 10, 6, 20, 0)


@pytest.mark.parametrize(
    ("opens", "due", "closes", "name"),
    [
        (10, 9, 12, "due"),
        (10, 10, 12, "due"),
        (9, 12, 11, "closes"),
    ],
)
def test_a_window_out_of_order_says_which_time_to_change(opens, due, closes, name):
    window = Window(opens_at=utc(2026, 10, opens), due_at=utc(2026, 10, due), closes_at=utc(2026, 10, closes))
    assert window.problem().name == name


def test_a_window_may_close_the_moment_it_is_due_but_not_a_year_later():
    due = utc(2026, 10, 9)
    assert Window(opens_at=utc(2026, 10, 6), due_at=due, closes_at=due).problem() is None
    too_long = Window(opens_at=utc(2026, 10, 6), due_at=due, closes_at=utc(2028, 10, 9))
    assert too_long.problem().sentence.startswith("It would stay open for more than a year")


def test_a_week_begins_on_monday():
    assert [monday_of(date(2026, 10, day)) for day in (5, 8, 11, 12)] == [
        date(2026, 10, 5),
        date(2026, 10, 5),
        date(2026, 10, 5),
        date(2026, 10, 12),
    ]
