"""The days up to a deadline, on the band's calendar."""

from datetime import UTC, datetime, timedelta

from bandroom.people.models import Band
from submissions.working.days import days_to_due

BAND = Band(time_zone="America/Chicago")
THURSDAY_8PM = datetime(2026, 10, 9, 1, 0, tzinfo=UTC)  # Thursday 8 October, 8 pm in Chicago


def named(at: datetime, due_at: datetime = THURSDAY_8PM) -> list[str]:
    """Each day as "Tue", with * for today and | behind the due day."""
    return [
        f"{day.date:%a}{'*' if day.is_today else ''}{'|' if day.is_due else ''}"
        for day in days_to_due(due_at=due_at, band=BAND, at=at)
    ]


def test_from_today_to_the_day_after_due():
    assert named(datetime(2026, 10, 6, 20, 0, tzinfo=UTC)) == ["Tue*", "Wed", "Thu|", "Fri"]


def test_due_today_also_shows_the_day_before():
    assert named(THURSDAY_8PM - timedelta(hours=1)) == ["Wed", "Thu*|", "Fri"]


def test_an_evening_in_the_band_is_still_the_same_day_though_it_is_tomorrow_in_utc():
    assert named(datetime(2026, 10, 7, 3, 0, tzinfo=UTC)) == ["Tue*", "Wed", "Thu|", "Fri"]


def test_a_far_deadline_shows_the_days_next_to_it():
    assert named(THURSDAY_8PM - timedelta(days=20)) == ["Sun", "Mon", "Tue", "Wed", "Thu|", "Fri"]


def test_after_the_deadline_there_is_nothing_to_count():
    assert named(THURSDAY_8PM + timedelta(seconds=1)) == []


def test_the_day_the_clock_changes_is_one_day():
    sunday = datetime(2026, 11, 1, 18, 0, tzinfo=UTC)
    due = datetime(2026, 11, 3, 2, 0, tzinfo=UTC)  # Monday 8 pm, now UTC-6
    assert named(sunday, due) == ["Sun*", "Mon|", "Tue"]
