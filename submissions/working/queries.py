"""What a student's pages read."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Prefetch

from bandroom.people.models import Band, User
from exercises.models import ExerciseLine
from submissions.models import Assignment, Booking, CountingTake, Mark, Posting, Return, Slot, Take
from submissions.turn_ins.lines_in import NOTHING, LinesIn, lines_in
from submissions.turn_ins.own_work import OwnPosting, own_posting, own_postings
from submissions.turn_ins.policy import policy_of
from submissions.turn_ins.standing import Standing, is_late, standing_of

# Work that closed longer ago is on the page of earlier work.
RECENT = timedelta(days=21)


@dataclass(frozen=True, slots=True)
class WorkItem:
    own: OwnPosting
    standing: Standing
    late: bool
    came_back: bool
    # The next time the student has booked to play it live.
    check_in: Slot | None
    lines: LinesIn

    @property
    def assignment(self) -> Assignment:
        return self.own.posting.assignment

    @property
    def due_at(self) -> datetime:
        return self.own.posting.due_at


def work_items(*, own: Sequence[OwnPosting], band: Band, at: datetime) -> tuple[WorkItem, ...]:
    """Each posting with where the student stands; four queries."""
    policy = policy_of(band)
    booked = _booked(own=own, at=at)
    lines = lines_in((item.turn_in, item.posting.assignment.lines) for item in own if item.turn_in)
    unseen = set(
        Return.objects.filter(
            turn_in__in=[item.turn_in for item in own if item.turn_in],
            returned_at__isnull=False,
            seen_at__isnull=True,
        ).values_list("turn_in", flat=True)
    )
    return tuple(
        WorkItem(
            own=item,
            standing=standing_of(
                turn_in=item.turn_in,
                posting=item.posting,
                policy=policy,
                booked=item.posting.assignment_id in booked,
                at=at,
            ),
            late=is_late(turn_in=item.turn_in, posting=item.posting, policy=policy),
            came_back=item.turn_in is not None and item.turn_in.pk in unseen,
            check_in=booked.get(item.posting.assignment_id),
            lines=lines.get(item.turn_in.pk, NOTHING) if item.turn_in else NOTHING,
        )
        for item in own
    )


def recent_work(*, student: User, band: Band, at: datetime) -> tuple[WorkItem, ...]:
    """What is open or closed a short while ago; the cost does not grow with the years behind it."""
    postings = Posting.objects.filter(opens_at__lte=at, closes_at__gt=at - RECENT)
    return work_items(own=own_postings(student=student, band=band, postings=postings), band=band, at=at)


def earlier_work(*, student: User, band: Band, at: datetime) -> tuple[OwnPosting, ...]:
    """Everything that closed before, the newest first."""
    postings = Posting.objects.filter(opens_at__lte=at, closes_at__lte=at - RECENT)
    return own_postings(student=student, band=band, postings=postings)[::-1]


def _booked(*, own: Sequence[OwnPosting], at: datetime) -> dict[int, Slot]:
    """The next time the student has booked, by the assignment that is to be played then."""
    if not own:
        return {}
    bookings = (
        Booking.objects.filter(
            seat__student=own[0].seat.student_id,
            assignment__isnull=False,
            state=Booking.State.BOOKED,
            slot__ends_at__gt=at,
            slot__cancelled_at__isnull=True,
        )
        .select_related("slot")
        .order_by("-slot__starts_at")  # of two, the earlier one stays
    )
    return {booking.assignment_id: booking.slot for booking in bookings if booking.assignment_id}


@dataclass(frozen=True, slots=True)
class LineMarks:
    """What came back for one line: criterion, level or None for "not yet", in rubric order."""

    label: str
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class CameBack:
    """The last returned attempt of a turn-in."""

    returned: Return
    lines: tuple[LineMarks, ...]

    @property
    def look_at(self) -> tuple[str, str] | None:
        """Line and bar of "look at", such as ("A", "2")."""
        place = self.returned.look_at
        return (place[0], place[1:]) if place else None


def came_back(*, own: OwnPosting) -> CameBack | None:
    """Only what the director returned; marks of an attempt still on the desk stay there."""
    if own.turn_in is None:
        return None
    returned = (
        own.turn_in.returns.filter(returned_at__isnull=False)
        .select_related("returned_by")
        .order_by("-attempt")
        .first()
    )
    if returned is None:
        return None
    marks = list(
        own.turn_in.marks.filter(attempt=returned.attempt)
        .select_related("criterion", "level")
        .order_by("criterion__order")
    )
    lines = tuple(
        LineMarks(label=label, marks=tuple(mark for mark in marks if mark.line == label))
        for label in own.posting.assignment.lines
    )
    return CameBack(returned=returned, lines=lines)


def asked_lines(assignment: Assignment) -> list[ExerciseLine]:
    return [line for line in assignment.exercise.lines.all() if line.label in assignment.lines]


def own_takes(*, own: OwnPosting) -> list[Take]:
    """The student's takes of this assignment, the newest first, each with the lines it counts for."""
    counting = CountingTake.objects.filter(turn_in=own.turn_in)
    if own.turn_in is not None:
        counting = counting.filter(attempt=own.turn_in.attempt)
    return list(
        Take.objects.filter(assignment=own.posting.assignment_id, seat=own.seat)
        .exclude(state=Take.State.DELETED)
        .prefetch_related(Prefetch("counts_for", queryset=counting, to_attr="counting_now"))
        .order_by("-declared_at", "-pk")
    )


__all__ = [
    "CameBack",
    "LineMarks",
    "WorkItem",
    "asked_lines",
    "came_back",
    "earlier_work",
    "own_posting",
    "own_takes",
    "recent_work",
    "work_items",
]
