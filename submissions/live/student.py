"""One student at a check-in: who is called, what is marked, and what they asked help for."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from submissions.checkins.queries import Booked, Sitting, can_play_live, open_stuck
from submissions.grading.drawing import bars_of
from submissions.grading.stand import Stand, stand_of
from submissions.models import Assignment, Booking, Slot, Stuck, TurnIn
from submissions.turn_ins.queries import assignment_or_404, rows_of
from submissions.turn_ins.roster import RosterRow
from submissions.working.pages import LinePage, line_page
from submissions.working.queries import asked_lines

#: More would not fit side by side; a longer time is said in words alone.
MOST_MINUTE_BARS = 10


@dataclass(frozen=True, slots=True)
class Played:
    """What the student came to play. Without `row` the assignment does not reach the student any more."""

    assignment: Assignment
    row: RosterRow | None
    stand: Stand | None

    @property
    def turn_in(self) -> TurnIn | None:
        return self.row.turn_in if self.row else None


@dataclass(frozen=True, slots=True)
class HelpLine:
    """A line to help with, as the student reads it; the bars where the student said "I'm stuck"."""

    assignment: Assignment
    page: LinePage
    bars: tuple[int, ...]
    # their places in the drawing, from 0
    lit: tuple[int, ...]

    @property
    def words(self) -> str:
        if not self.bars:
            return ""
        named = " and ".join(str(bar) for bar in self.bars)
        return f"Stuck at bar{'s' if len(self.bars) > 1 else ''} {named}"


@dataclass(frozen=True, slots=True)
class Clock:
    """How long each student has; `since` is when the one who is here was called."""

    minutes: int
    since: datetime | None

    @property
    def bars(self) -> range:
        return range(1, self.minutes + 1) if self.minutes <= MOST_MINUTE_BARS else range(0)


def called(sitting: Sitting, *, slot: Slot, wanted: str) -> Booked | None:
    """Who is shown: the one asked for, else the first of this time still to come, else its first."""
    booked = [one for time in sitting.times if time.slot.pk == slot.pk for one in time.booked]
    asked = [one for one in booked if str(one.booking.pk) == wanted]
    to_come = [one for one in booked if one.is_to_come]
    return next(iter((*asked, *to_come, *booked)), None)


def clock_of(slot: Slot, now: Booked | None) -> Clock:
    here = now is not None and now.booking.state == Booking.State.CAME
    return Clock(
        minutes=max(1, slot.minutes // max(1, slot.capacity)),
        since=now.booking.changed_at if here and now is not None else None,
    )


def played(
    booking: Booking,
    *,
    at: datetime,
    choice_of_takes: Mapping[str, str] | None = None,
    posted: Mapping[str, str] | None = None,
) -> Played | None:
    """What was booked to turn in, ready to be marked; None when the time is for help alone."""
    if booking.assignment_id is None:
        return None
    assignment = assignment_or_404(band=booking.slot.band, pk=booking.assignment_id)
    rows = rows_of(assignment=assignment, at=at)
    row = next((row for row in rows if row.seat.pk == booking.seat_id), None)
    if row is None:
        return Played(assignment=assignment, row=None, stand=None)
    stand = stand_of(row=row, assignment=assignment, choice_of_takes=choice_of_takes, posted=posted)
    return Played(assignment=assignment, row=row, stand=stand)


def help_lines(booking: Booking, *, stuck: Sequence[Stuck], at: datetime) -> tuple[HelpLine, ...]:
    """Lines the student is stuck in; with none named, those of the work that is due next."""
    bars: dict[tuple[Assignment, str], list[int]] = {}
    for place in stuck:
        bars.setdefault((place.assignment, place.line), []).append(place.bar)
    if not bars:
        own = can_play_live(student=booking.seat.student, band=booking.slot.band, at=at)
        bars = {
            (one.posting.assignment, label): [] for one in own[:1] for label in one.posting.assignment.lines
        }
    found = []
    for (assignment, label), numbers in bars.items():
        line = next((line for line in asked_lines(assignment) if line.label == label), None)
        if line is not None:
            page = line_page(line=line, assignment=assignment, instrument=booking.seat.instrument)
            stuck_at = tuple(sorted(set(numbers)))
            printed = bars_of(line)
            lit = tuple(printed.index(bar) for bar in stuck_at if bar in printed)
            found.append(HelpLine(assignment=assignment, page=page, bars=stuck_at, lit=lit))
    return tuple(found)


def stuck_of(booking: Booking) -> list[Stuck]:
    return open_stuck(student=booking.seat.student, band=booking.slot.band)
