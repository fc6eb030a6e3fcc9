"""Which instant does a time on the band's clock mean?

A director writes "Thursday, 8 pm". Twice a year the clock in most time zones skips or repeats some minutes:
a skipped time is refused in one sentence, a repeated one is read so that students have the longer time.
Pure computation on `zoneinfo`: no request, no database.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import Enum
from zoneinfo import ZoneInfo

DUE_WEEKDAY = 3  # Thursday, counted from Monday = 0
CLOSES_WEEKDAY = 6  # Sunday
EVENING = time(20, 0)
# Longer than a school year is a slip of the pen, such as a wrong year.
LONGEST = timedelta(days=366)


class Twice(Enum):
    """Which of two is meant where the clock shows a time twice. The value is PEP 495's `fold`."""

    FIRST = 0
    SECOND = 1


# The longer time for students, whichever end of the window it is.
OPENING, DUE, CLOSING = Twice.FIRST, Twice.SECOND, Twice.SECOND


@dataclass(frozen=True, slots=True)
class Jump:
    """The clock goes from `start` straight to `end`; what lies between never shows on it."""

    start: datetime  # without time zone, as the clock would show it
    end: datetime


class NoSuchTime(ValueError):
    """The time written is one that the clock jumps over; `jump` says from where to where."""

    def __init__(self, *, wall: datetime, jump: Jump) -> None:
        self.wall = wall
        self.jump = jump
        super().__init__(
            f"The clock jumps from {clock_words(jump.start)} to {clock_words(jump.end)} "
            f"on {day_words(jump.start)}, so there is no {clock_words(wall)}; "
            f"choose {clock_words(jump.end)} or later."
        )


def clock_words(wall: datetime) -> str:
    """As it is said: 8:00 pm."""
    return f"{wall.hour % 12 or 12}:{wall.minute:02d} {'am' if wall.hour < 12 else 'pm'}"


def day_words(day: date) -> str:
    """Thursday 8 October."""
    return f"{day:%A} {day.day} {day:%B}"


def wall_clock(at: datetime, *, zone: ZoneInfo) -> datetime:
    """What the clock shows at `at`, without time zone, to the minute."""
    return at.astimezone(zone).replace(second=0, microsecond=0, tzinfo=None, fold=0)


def comes_twice(wall: datetime, *, zone: ZoneInfo) -> bool:
    first, second = (wall.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    return first.utcoffset() != second.utcoffset() and jump_at(wall, zone=zone) is None


def jump_at(wall: datetime, *, zone: ZoneInfo) -> Jump | None:
    """The jump that swallows `wall`, or None where the clock does show it."""
    before, after = (wall.replace(tzinfo=zone, fold=fold).utcoffset() for fold in (0, 1))
    if before is None or after is None or after <= before:
        return None
    # Between these two instants the offset changes once; found to the second by halving.
    early = (wall - after).replace(tzinfo=UTC)
    late = (wall - before).replace(tzinfo=UTC)
    while late - early > timedelta(seconds=1):
        middle = (early + (late - early) / 2).replace(microsecond=0)
        if middle.astimezone(zone).utcoffset() == after:
            late = middle
        else:
            early = middle
    moment = late.replace(tzinfo=None)
    return Jump(start=moment + before, end=moment + after)


def instant(wall: datetime, *, zone: ZoneInfo, twice: Twice) -> datetime:
    """The instant, in UTC, at which the clock of `zone` shows `wall` (a datetime without time zone).

    NoSuchTime where the clock jumps over it.
    """
    jump = jump_at(wall, zone=zone)
    if jump is not None:
        raise NoSuchTime(wall=wall, jump=jump)
    return wall.replace(tzinfo=zone, fold=twice.value).astimezone(UTC)


def weeks_later(at: datetime, *, weeks: int, zone: ZoneInfo, twice: Twice) -> datetime:
    """The same weekday and time on the clock of `zone`, `weeks` later.

    Where the clock jumps over that time, the first moment after the jump: nobody is asked, so order is kept.
    """
    wall = wall_clock(at, zone=zone) + timedelta(weeks=weeks)
    jump = jump_at(wall, zone=zone)
    return instant(jump.end if jump else wall, zone=zone, twice=twice)


def monday_of(day: date) -> date:
    return day - timedelta(days=day.weekday())


def day_starts(day: date, *, zone: ZoneInfo) -> datetime:
    """The first instant of `day`; in the few zones that jump at midnight, the end of the jump."""
    return datetime.combine(day, time(0), tzinfo=zone).astimezone(UTC)


@dataclass(frozen=True, slots=True)
class WindowProblem:
    """`name` is the time to change: "opens", "due" or "closes"."""

    name: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Window:
    """When an assignment opens, is due and closes for one section; instants, not clock times."""

    opens_at: datetime
    due_at: datetime
    closes_at: datetime

    def problem(self) -> "WindowProblem | None":
        """What is wrong with the order of the three, or None."""
        if self.due_at <= self.opens_at:
            return WindowProblem(
                "due", "It would be due before it opens; choose a later due time or an earlier opening."
            )
        if self.closes_at < self.due_at:
            return WindowProblem(
                "closes", "It would close before it is due; choose a closing time at or after the due time."
            )
        if self.closes_at - self.opens_at > LONGEST:
            return WindowProblem(
                "closes", "It would stay open for more than a year; look at the years of both times again."
            )
        return None

    def weeks_later(self, *, weeks: int, zone: ZoneInfo) -> "Window":
        return Window(
            opens_at=weeks_later(self.opens_at, weeks=weeks, zone=zone, twice=OPENING),
            due_at=weeks_later(self.due_at, weeks=weeks, zone=zone, twice=DUE),
            closes_at=weeks_later(self.closes_at, weeks=weeks, zone=zone, twice=CLOSING),
        )


def usual_window(*, zone: ZoneInfo, at: datetime) -> Window:
    """Opens now, due the next Thursday after today at 8 pm, closes the Sunday after it at 8 pm."""
    today = at.astimezone(zone).date()
    due_day = today + timedelta(days=(DUE_WEEKDAY - today.weekday() - 1) % 7 + 1)
    close_day = due_day + timedelta(days=CLOSES_WEEKDAY - DUE_WEEKDAY)
    return Window(
        opens_at=at.replace(second=0, microsecond=0),
        due_at=instant(datetime.combine(due_day, EVENING), zone=zone, twice=DUE),
        closes_at=instant(datetime.combine(close_day, EVENING), zone=zone, twice=CLOSING),
    )
