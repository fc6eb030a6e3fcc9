"""The week board: class periods down, days across, each deadline where it falls, with who is in.

Only what opens, is due or closes in the week is read, so the page costs the same after ten years.
"""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import Enum

from django.db.models import Q

from bandroom.people.models import Band, Seat, Section
from submissions.assigning.deadlines import LONGEST, day_starts
from submissions.assigning.periods import by_period
from submissions.models import Assignment, Posting, TurnIn

SCHOOL_DAYS = 5
IN = {TurnIn.State.WAITING, TurnIn.State.RETURNED, TurnIn.State.REDO}


class DayEvent(Enum):
    OPENS = "opens"
    DUE = "due"
    CLOSES = "closes"


@dataclass(frozen=True, slots=True)
class Tally:
    """Who has turned in, of the students a posting is meant for."""

    is_in: int
    excused: int
    waiting: int
    students: int

    @property
    def not_in(self) -> int:
        return self.students - self.is_in - self.excused

    @property
    def ticks(self) -> list[str]:
        """One for each student: "is-in", "is-excused" or "" for the rest."""
        return ["is-in"] * self.is_in + ["is-excused"] * self.excused + [""] * self.not_in

    def plus(self, other: "Tally") -> "Tally":
        return Tally(
            is_in=self.is_in + other.is_in,
            excused=self.excused + other.excused,
            waiting=self.waiting + other.waiting,
            students=self.students + other.students,
        )


@dataclass(frozen=True, slots=True)
class Job:
    """An assignment on one day for the sections of one period that share its times.

    `sections` is empty where that is the whole period; `tally` is None where the day is not its deadline.
    """

    assignment: Assignment
    event: DayEvent
    moment: datetime
    closes_at: datetime
    sections: tuple[Section, ...]
    tally: Tally
    passed: bool

    @property
    def is_due(self) -> bool:
        return self.event is DayEvent.DUE

    @property
    def shows_tally(self) -> bool:
        return self.is_due or (self.event is DayEvent.CLOSES and self.passed)


@dataclass(frozen=True, slots=True)
class BoardCell:
    day: date
    is_today: bool
    jobs: tuple[Job, ...]

    @property
    def has_deadline(self) -> bool:
        return any(job.is_due for job in self.jobs)


@dataclass(frozen=True, slots=True)
class PeriodRow:
    """One class period. Sections without a period stand each in a row of their own, `period` empty."""

    period: str
    sections: tuple[Section, ...]
    students: int
    cells: tuple[BoardCell, ...]


@dataclass(frozen=True, slots=True)
class WeekBoard:
    monday: date
    today: date
    days: tuple[date, ...]
    rows: tuple[PeriodRow, ...]

    @property
    def is_empty(self) -> bool:
        return not any(cell.jobs for row in self.rows for cell in row.cells)


def week_board(*, band: Band, monday: date, at: datetime) -> WeekBoard:
    """The board of the week that starts on `monday`, as it stands at `at`. Four queries."""
    starts = day_starts(monday, zone=band.zone)
    ends = day_starts(monday + timedelta(days=7), zone=band.zone)
    sections = list(Section.objects.filter(band=band))
    postings = _postings(band=band, starts=starts, ends=ends)
    seats = _seats(band=band, postings=postings, at=at)
    tallies = _tallies(band=band, postings=postings, seats=seats)
    today = band.local(at).date()
    weekend = any(
        band.local(posting.due_at).date() >= monday + timedelta(days=SCHOOL_DAYS)
        for posting in postings
        if starts <= posting.due_at < ends
    )
    days = tuple(monday + timedelta(days=n) for n in range(7 if weekend else SCHOOL_DAYS))
    rows = []
    for group in by_period(sections):
        jobs = _jobs(band=band, group=group, postings=postings, tallies=tallies, span=(starts, ends), at=at)
        rows.append(
            PeriodRow(
                period=group[0].period,
                sections=group,
                students=sum(_sits(seat, today) for section in group for seat in seats[section.pk]),
                cells=tuple(BoardCell(day=day, is_today=day == today, jobs=tuple(jobs[day])) for day in days),
            )
        )
    return WeekBoard(monday=monday, today=today, days=days, rows=tuple(rows))


def _postings(*, band: Band, starts: datetime, ends: datetime) -> list[Posting]:
    return list(
        Posting.objects.filter(
            Q(opens_at__gte=starts, opens_at__lt=ends)
            | Q(due_at__gte=starts, due_at__lt=ends)
            | Q(closes_at__gte=starts, closes_at__lt=ends),
            section__band=band,
            # Follows from the above, and lets the index leave all other years alone.
            due_at__gte=starts - LONGEST,
            due_at__lt=ends + LONGEST,
            assignment__withdrawn_at__isnull=True,
        )
        .select_related("assignment__exercise")
        .order_by("due_at", "assignment__number", "pk")
    )


def _seats(*, band: Band, postings: Sequence[Posting], at: datetime) -> Mapping[int, list[Seat]]:
    """Seats that are taken today or on the due day of one of the postings, by section."""
    days = [band.local(posting.due_at).date() for posting in postings] + [band.local(at).date()]
    found = Seat.objects.filter(
        Q(until__isnull=True) | Q(until__gte=min(days)), section__band=band, since__lte=max(days)
    ).only("pk", "section_id", "since", "until")
    seats: dict[int, list[Seat]] = defaultdict(list)
    for seat in found:
        seats[seat.section_id].append(seat)
    return seats


def _sits(seat: Seat, day: date) -> bool:
    return seat.since <= day and (seat.until is None or seat.until >= day)


def _tallies(
    *, band: Band, postings: Sequence[Posting], seats: Mapping[int, list[Seat]]
) -> Mapping[int, Tally]:
    """By posting: the seats taken on its due day, and any other that has a turn-in, as on the roster."""
    states: dict[int, dict[int, str]] = defaultdict(dict)
    rows = TurnIn.objects.filter(posting__in=postings).values_list("posting_id", "seat_id", "state")
    for posting_id, seat_id, state in rows:
        states[posting_id][seat_id] = state
    tallies = {}
    for posting in postings:
        due_day = band.local(posting.due_at).date()
        meant = {seat.pk for seat in seats[posting.section_id] if _sits(seat, due_day)}
        counts = Counter(states[posting.pk].values())
        tallies[posting.pk] = Tally(
            is_in=sum(counts[state] for state in IN),
            excused=counts[TurnIn.State.EXCUSED],
            waiting=counts[TurnIn.State.WAITING],
            students=len(meant | states[posting.pk].keys()),
        )
    return tallies


def _jobs(
    *,
    band: Band,
    group: tuple[Section, ...],
    postings: Sequence[Posting],
    tallies: Mapping[int, Tally],
    span: tuple[datetime, datetime],
    at: datetime,
) -> Mapping[date, list[Job]]:
    """What happens to the sections of `group`, by day; those that share all times are one job."""
    in_group = {section.pk: section for section in group}
    together: dict[tuple[int, datetime, datetime, datetime], list[Posting]] = defaultdict(list)
    for posting in postings:
        if posting.section_id in in_group:
            together[posting.assignment_id, posting.opens_at, posting.due_at, posting.closes_at].append(
                posting
            )

    jobs: dict[date, list[Job]] = defaultdict(list)
    for (_, opens_at, due_at, closes_at), shared in together.items():
        tally = Tally(is_in=0, excused=0, waiting=0, students=0)
        for posting in shared:
            tally = tally.plus(tallies[posting.pk])
        whole = len(shared) == len(group)
        taken: set[date] = set()
        # Due first: an assignment that opens and is due on one day stands there once.
        for event, moment in (
            (DayEvent.DUE, due_at),
            (DayEvent.OPENS, opens_at),
            (DayEvent.CLOSES, closes_at),
        ):
            day = band.local(moment).date()
            if not span[0] <= moment < span[1] or day in taken:
                continue
            taken.add(day)
            jobs[day].append(
                Job(
                    assignment=shared[0].assignment,
                    event=event,
                    moment=moment,
                    closes_at=closes_at,
                    sections=() if whole else tuple(in_group[posting.section_id] for posting in shared),
                    tally=tally,
                    passed=moment <= at,
                )
            )
    for day in jobs:
        jobs[day].sort(key=lambda job: (job.moment, job.assignment.number))
    return jobs
