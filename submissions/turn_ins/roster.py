"""Everybody an assignment was posted to, each with where they stand, in a constant number of queries."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet

from bandroom.people.models import Membership, Role, Seat, User
from submissions.models import Assignment, Booking, Policy, Posting, Stuck, TurnIn
from submissions.turn_ins.lines_in import NOTHING, LinesIn, lines_in
from submissions.turn_ins.policy import policy_of
from submissions.turn_ins.standing import Standing, is_late, standing_of


@dataclass(frozen=True, slots=True)
class RosterRow:
    """One seat of one posting. `turn_in` is None where nothing was ever turned in or decided."""

    seat: Seat
    posting: Posting
    turn_in: TurnIn | None
    standing: Standing
    late: bool
    # None once the student's membership was ended and erased.
    membership_id: int | None
    may_record: bool
    stuck: Stuck | None
    lines: LinesIn = NOTHING

    @property
    def student(self) -> User:
        return self.seat.student


def seats_of(posting: Posting) -> QuerySet[Seat]:
    """Seats that the posting is meant for: taken at some time from opening to due, on the band's calendar.

    A seat that ended before it opened, or began after it was due, is no part of it, so a student who
    changes instrument in the middle of the week has it once on the seat held when it was due.
    """
    band = posting.assignment.band
    due_day = band.local(posting.due_at).date()
    return Seat.objects.filter(section_id=posting.section_id).on(due_day)


def _seats(*, postings: Mapping[int, Posting]) -> list[Seat]:
    """Seats of all postings in one query, in score order; seats with a turn-in always belong."""
    if not postings:
        return []
    meant = Q(pk__in=())
    for posting in postings.values():
        meant |= Q(section_id=posting.section_id, pk__in=seats_of(posting).values("pk"))
    # Not by a join: that would read every turn-in of every seat, all years of them.
    answered = Q(pk__in=TurnIn.objects.filter(posting__in=list(postings.values())).values("seat"))
    return list(Seat.objects.filter(meant | answered).select_related("student", "section").in_score_order())


def roster(*, assignment: Assignment, at: datetime, policy: Policy | None = None) -> tuple[RosterRow, ...]:
    """Rows in score order. Seven queries (eight without `policy`), however many seats there are."""
    postings = {posting.section_id: posting for posting in assignment.postings.select_related("section")}
    for posting in postings.values():
        posting.assignment = assignment
    policy = policy or policy_of(assignment.band)
    turn_ins = {turn_in.seat_id: turn_in for turn_in in assignment.turn_ins.all()}
    lines = lines_in((turn_in, assignment.lines) for turn_in in turn_ins.values())
    booked = set(
        Booking.objects.filter(
            assignment=assignment,
            state=Booking.State.BOOKED,
            slot__ends_at__gt=at,
            slot__cancelled_at__isnull=True,
        ).values_list("seat_id", flat=True)
    )
    stuck = {row.seat_id: row for row in assignment.stuck.filter(helped_at__isnull=True)}
    recording = {
        membership.user_id: membership
        for membership in Membership.objects.filter(band_id=assignment.band_id, role=Role.STUDENT)
    }
    rows = []
    for seat in _seats(postings=postings):
        posting = postings[seat.section_id]
        turn_in = turn_ins.get(seat.pk)
        member = recording.get(seat.student_id)
        rows.append(
            RosterRow(
                seat=seat,
                posting=posting,
                turn_in=turn_in,
                standing=standing_of(
                    turn_in=turn_in, posting=posting, policy=policy, booked=seat.pk in booked, at=at
                ),
                late=is_late(turn_in=turn_in, posting=posting, policy=policy),
                membership_id=member.pk if member else None,
                may_record=member is not None and member.may_record,
                stuck=stuck.get(seat.pk),
                lines=lines.get(turn_in.pk, NOTHING) if turn_in else NOTHING,
            )
        )
    return tuple(rows)


def count_by_standing(rows: Iterable[RosterRow]) -> dict[Standing, int]:
    """Every standing with its count, zero included, in the order a director reads them."""
    counts = Counter(row.standing for row in rows)
    return {standing: counts[standing] for standing in Standing}
