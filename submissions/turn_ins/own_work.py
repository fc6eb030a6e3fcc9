"""A student's own work: which postings are theirs, with which seat."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Q, QuerySet

from bandroom.people.models import Band, Seat, User
from submissions.models import Posting, TurnIn


@dataclass(frozen=True, slots=True)
class OwnPosting:
    """One posting as one student has it."""

    posting: Posting
    seat: Seat
    turn_in: TurnIn | None


def own_seats(*, student: User, band: Band) -> list[Seat]:
    """All seats the student ever held in the band, the newest first."""
    return list(
        Seat.objects.filter(student=student, section__band=band)
        .select_related("section", "student")
        .order_by("-since", "-pk")
    )


def own_postings(
    *, student: User, band: Band, postings: QuerySet[Posting] | None = None
) -> tuple[OwnPosting, ...]:
    """The postings that reach this student, from `postings` or from all; three queries.

    A posting reaches the seat held on its due day, or the one it was turned in with. Withdrawn
    assignments reach nobody.
    """
    seats = own_seats(student=student, band=band)
    wanted = (Posting.objects.all() if postings is None else postings).filter(
        Q(section__in={seat.section_id for seat in seats}) | Q(turn_ins__seat__in=seats),
        assignment__band=band,
        assignment__withdrawn_at__isnull=True,
    )
    found = list(wanted.distinct().select_related("assignment__exercise", "section").order_by("due_at", "pk"))
    turn_ins = {row.posting_id: row for row in TurnIn.objects.filter(seat__in=seats, posting__in=found)}
    own = []
    for posting in found:
        turn_in = turn_ins.get(posting.pk)
        seat = _seat_for(posting=posting, turn_in=turn_in, seats=seats, band=band)
        if seat is not None:
            own.append(OwnPosting(posting=posting, seat=seat, turn_in=turn_in))
    return tuple(own)


def own_posting(*, student: User, band: Band, assignment_pk: int, at: datetime) -> OwnPosting | None:
    """The student's own posting of one assignment; None where there is none or it has not opened."""
    postings = Posting.objects.filter(assignment=assignment_pk, opens_at__lte=at)
    # In two sections of one assignment the later deadline is the kind one.
    return max(
        own_postings(student=student, band=band, postings=postings),
        key=lambda own: (own.turn_in is not None, own.posting.due_at),
        default=None,
    )


def _seat_for(*, posting: Posting, turn_in: TurnIn | None, seats: Iterable[Seat], band: Band) -> Seat | None:
    if turn_in is not None:
        return next(seat for seat in seats if seat.pk == turn_in.seat_id)
    due_day = band.local(posting.due_at).date()
    return next(
        (seat for seat in seats if seat.section_id == posting.section_id and _held(seat, due_day)), None
    )


def _held(seat: Seat, day: date) -> bool:
    return seat.since <= day and (seat.until is None or seat.until >= day)
