"""Rows this slice asks for, each in a number of queries that does not grow with the band."""

from datetime import datetime

from django.db.models import Count, Exists, Max, Min, OuterRef, Prefetch, Q, QuerySet

from bandroom.people.models import Band, Seat, Section
from exercises.models import Exercise, ExerciseLine
from submissions.assigning.school_years import SchoolYear
from submissions.models import (
    Assignment,
    Booking,
    CountingTake,
    Mark,
    Posting,
    Rubric,
    Take,
    TurnIn,
)


def assignments_of_year(*, band: Band, year: SchoolYear, at: datetime, closed: bool) -> QuerySet[Assignment]:
    """Those closed for every section at `at`, or the others; the latest deadline first."""
    starts, until = year.span(band=band)
    still_open = Exists(Posting.objects.filter(assignment=OuterRef("pk"), closes_at__gt=at))
    return (
        Assignment.objects.filter(
            ~still_open if closed else still_open, band=band, posted_at__gte=starts, posted_at__lt=until
        )
        .select_related("exercise")
        .prefetch_related(Prefetch("postings", Posting.objects.select_related("section")))
        .alias(last_due=Max("postings__due_at"))
        .order_by("-last_due", "-pk")
    )


def waiting_by_assignment(assignments: list[Assignment]) -> dict[int, int]:
    """How many turn-ins wait for marks, by assignment."""
    counts = (
        TurnIn.objects.filter(assignment__in=assignments, state=TurnIn.State.WAITING)
        .values_list("assignment_id")
        .annotate(waiting=Count("pk"))
    )
    return dict(counts)


def first_posted_at(*, band: Band) -> datetime | None:
    first: datetime | None = Assignment.objects.filter(band=band).aggregate(first=Min("posted_at"))["first"]
    return first


def exercises_to_post(*, band: Band, words: str = "") -> QuerySet[Exercise]:
    """Current exercises, newest first, with lines; `last_number` is the assignment each was used in last."""
    last = Assignment.objects.filter(exercise=OuterRef("pk")).order_by("-posted_at", "-pk")
    found = (
        Exercise.objects.current()
        .filter(band=band)
        .annotate(last_number=last.values("number")[:1], last_posted_at=last.values("posted_at")[:1])
    )
    if words:
        found = found.filter(title__icontains=words)
    return found.prefetch_related(Prefetch("lines", ExerciseLine.objects.defer("score")))


def sections_with_seats(*, band: Band, at: datetime) -> QuerySet[Section]:
    """Every section, with `seated`: how many students sit in it today."""
    today = band.local(at).date()
    seated = Q(seats__since__lte=today) & (Q(seats__until__isnull=True) | Q(seats__until__gte=today))
    return Section.objects.filter(band=band).annotate(seated=Count("seats", filter=seated))


def instruments_played(*, band: Band, at: datetime) -> set[str]:
    seats = Seat.objects.filter(section__band=band).on(band.local(at).date())
    return set(seats.values_list("instrument", flat=True).distinct())


def rubrics_of(*, band: Band) -> QuerySet[Rubric]:
    """With criteria and levels, and `used`: in how many assignments."""
    return (
        Rubric.objects.filter(band=band)
        .prefetch_related("criteria__levels")
        .annotate(used=Count("assignments", distinct=True))
    )


def has_marks(*, assignment: Assignment) -> bool:
    return Mark.objects.filter(turn_in__assignment=assignment).exists()


def students_with_work_in_line(*, assignment: Assignment, line: str) -> int:
    """Seats with a take that counts for `line`, or a mark on it."""
    counting = CountingTake.objects.filter(turn_in=OuterRef("pk"), line=line)
    marked = Mark.objects.filter(turn_in=OuterRef("pk"), line=line)
    return TurnIn.objects.filter(Exists(counting) | Exists(marked), assignment=assignment).count()


def students_with_work_in_section(*, assignment: Assignment, posting: Posting) -> int:
    """Seats with a turn-in or an excuse in this posting, a take for it, or a booked check-in."""
    turned_in = TurnIn.objects.filter(seat=OuterRef("pk"), posting=posting)
    recorded = Take.objects.filter(seat=OuterRef("pk"), assignment=assignment)
    booked = Booking.objects.filter(seat=OuterRef("pk"), assignment=assignment).exclude(
        state=Booking.State.CANCELLED
    )
    return Seat.objects.filter(
        Exists(turned_in) | Exists(recorded) | Exists(booked), section_id=posting.section_id
    ).count()
