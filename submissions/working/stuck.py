"""Where a student is stuck, at which bars that can be said, and when there is help."""

from dataclasses import dataclass
from datetime import datetime

from django.db.models import F

from exercises.music.score import line_from_json
from submissions.models import Booking, Slot, Stuck
from submissions.turn_ins.own_work import OwnPosting
from submissions.working.queries import asked_lines


def stuck_of(own: OwnPosting) -> list[Stuck]:
    """Bars that wait for help; one query."""
    rows = Stuck.objects.filter(assignment=own.posting.assignment_id, seat=own.seat, helped_at__isnull=True)
    return list(rows)


def bars_to_be_stuck_at(own: OwnPosting) -> tuple[tuple[str, int], ...]:
    """Every bar of every line that is asked for, by the number printed over it."""
    return tuple(
        (line.label, number)
        for line in asked_lines(own.posting.assignment)
        for number, _ in line_from_json(line.score).numbered_bars()
    )


@dataclass(frozen=True, slots=True)
class Help:
    """The student's own time for help, else the next one that has room; None where there is neither."""

    booked: Slot | None
    free: Slot | None


def next_help(own: OwnPosting, *, at: datetime) -> Help:
    """At most two queries."""
    held = Booking.objects.filter(
        seat__student=own.seat.student_id,
        state=Booking.State.BOOKED,
        wants_help=True,
        slot__starts_at__gt=at,
        slot__cancelled_at__isnull=True,
    )
    booked = held.select_related("slot").order_by("slot__starts_at").first()
    if booked is not None:
        return Help(booked=booked.slot, free=None)
    offered = Slot.objects.to_come(sections=[own.seat.section_id], purposes=Slot.FOR_HELP, at=at)
    return Help(booked=None, free=offered.filter(taken__lt=F("capacity")).first())
