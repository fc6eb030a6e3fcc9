"""What waits for the director: turn-ins to mark, and the few things only a person can decide.

Both lists reach back to a fixed time before now, so they cost the same after ten years.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import Enum

from django.db.models import Count, Exists, F, Min, OuterRef, Q, QuerySet

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Seat
from submissions.assigning.school_years import current_year
from submissions.models import Assignment, Policy, Stuck, Take, TurnIn

# A take or a call for help is a matter of days; later the assignment's own pages still show it.
DECIDE_WITHIN = timedelta(days=14)
SHOWN = 12


@dataclass(frozen=True, slots=True)
class ToMark:
    """Turn-ins of one assignment in one period that wait for marks."""

    assignment: Assignment
    period: str
    section_name: str  # where the period is empty
    waiting: int
    oldest: datetime


class DecisionKind(Enum):
    UNPLAYABLE = "unplayable"
    STUCK = "stuck"
    TWO_CLOCKS = "two_clocks"


@dataclass(frozen=True, slots=True)
class Decision:
    """One row of "Needs a decision". `others`: how many more have the same; `says` the detail in words."""

    kind: DecisionKind
    seat: Seat
    assignment: Assignment
    at: datetime
    says: str = ""
    others: int = 0
    server_time: datetime | None = None
    phone_time: datetime | None = None

    @property
    def tab(self) -> str:
        return Instrument(self.seat.instrument).tab


def ready_to_mark(*, band: Band, at: datetime) -> list[ToMark]:
    """This school year's, the longest waiting first. One query."""
    starts, _ = current_year(band=band, at=at).span(band=band)
    groups: dict[tuple[int, str, str], ToMark] = {}
    rows = (
        TurnIn.objects.filter(
            state=TurnIn.State.WAITING,
            assignment__in=Assignment.objects.filter(
                band=band, withdrawn_at__isnull=True, posted_at__gte=starts
            ),
        )
        .values("assignment_id", "posting__section__period", "posting__section__name")
        .annotate(waiting=Count("pk"), oldest=Min("turned_in_at"))
        .order_by()
    )
    found = list(rows)
    if not found:
        return []
    assignments = (
        Assignment.objects.filter(pk__in={row["assignment_id"] for row in found})
        .select_related("exercise")
        .in_bulk()
    )
    for row in found:
        period = row["posting__section__period"]
        name = "" if period else row["posting__section__name"]
        key = (row["assignment_id"], period, name)
        before = groups.get(key)
        groups[key] = ToMark(
            assignment=assignments[row["assignment_id"]],
            period=period,
            section_name=name,
            waiting=row["waiting"] + (before.waiting if before else 0),
            oldest=min(row["oldest"], before.oldest) if before else row["oldest"],
        )
    return sorted(groups.values(), key=lambda entry: (entry.oldest, entry.assignment.number))


def needs_a_decision(*, band: Band, policy: Policy, at: datetime) -> list[Decision]:
    """Takes that cannot be played, students who are stuck, two clocks that disagree. Three queries."""
    return [
        *_unplayable(band=band, at=at),
        *_two_clocks(band=band, policy=policy, at=at),
        *_stuck(band=band, at=at),
    ]


def _of_open_assignments[T: (Take, Stuck)](rows: QuerySet[T], *, band: Band, at: datetime) -> QuerySet[T]:
    """Rows of a seat whose section has the assignment, and had not closed long ago."""
    return rows.filter(
        assignment__band=band,
        assignment__withdrawn_at__isnull=True,
        assignment__postings__section=F("seat__section"),
        assignment__postings__closes_at__gt=at - DECIDE_WITHIN,
    ).select_related("assignment__exercise", "seat__student")


def _unplayable(*, band: Band, at: datetime) -> list[Decision]:
    """Refused takes after which the student sent nothing better and the director did nothing yet."""
    better = Take.objects.filter(
        seat=OuterRef("seat"), assignment=OuterRef("assignment"), declared_at__gt=OuterRef("declared_at")
    ).exclude(state__in=[Take.State.REFUSED, Take.State.DELETED])
    decided = TurnIn.objects.filter(
        seat=OuterRef("seat"),
        assignment=OuterRef("assignment"),
        state__in=[TurnIn.State.RETURNED, TurnIn.State.REDO, TurnIn.State.EXCUSED],
        state_changed_at__gte=OuterRef("declared_at"),
    )
    takes = _of_open_assignments(Take.objects.filter(state=Take.State.REFUSED), band=band, at=at).filter(
        ~Exists(better), ~Exists(decided)
    )
    newest: dict[tuple[int, int], Take] = {}
    for take in takes.order_by("declared_at"):
        newest[take.seat_id, take.assignment_id] = take
    return [
        Decision(
            kind=DecisionKind.UNPLAYABLE,
            seat=take.seat,
            assignment=take.assignment,
            at=take.declared_at,
            says=take.reason,
        )
        for take in newest.values()
    ]


def _two_clocks(*, band: Band, policy: Policy, at: datetime) -> list[Decision]:
    """Late by the school's clock, on time by the phone's, and nobody has decided."""
    if policy.trust_phone_time:
        return []
    grace = timedelta(minutes=policy.grace_minutes)
    rows = (
        TurnIn.objects.filter(
            Q(state=TurnIn.State.WAITING),
            assignment__band=band,
            assignment__withdrawn_at__isnull=True,
            posting__closes_at__gt=at - DECIDE_WITHIN,
            counts_as_on_time__isnull=True,
            phone_time__lte=F("posting__due_at") + grace,
            first_in_at__gt=F("posting__due_at") + grace,
        )
        .select_related("assignment__exercise", "seat__student")
        .order_by("first_in_at", "pk")
    )
    return [
        Decision(
            kind=DecisionKind.TWO_CLOCKS,
            seat=row.seat,
            assignment=row.assignment,
            at=row.first_in_at,
            server_time=row.first_in_at,
            phone_time=row.phone_time,
        )
        for row in rows
        if row.first_in_at is not None
    ]


def _stuck(*, band: Band, at: datetime) -> list[Decision]:
    """Students who are stuck at one bar stand in one row, the first to call named."""
    calls = _of_open_assignments(Stuck.objects.filter(helped_at__isnull=True), band=band, at=at)
    together: dict[tuple[int, str, int], list[Stuck]] = defaultdict(list)
    for call in calls.order_by("at", "pk"):
        together[call.assignment_id, call.line, call.bar].append(call)
    return [
        Decision(
            kind=DecisionKind.STUCK,
            seat=same[0].seat,
            assignment=same[0].assignment,
            at=same[0].at,
            says=f"line {line}, bar {bar}",
            others=_students(same) - 1,
        )
        for (_, line, bar), same in together.items()
    ]


def _students(calls: Iterable[Stuck]) -> int:
    return len({call.seat_id for call in calls})
