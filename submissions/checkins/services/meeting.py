"""The moves of a check-in on the day: the student is here, did not come, was helped; a press taken back."""

from datetime import datetime

from django.db import transaction

from bandroom.people.models import User
from submissions.errors import Refused
from submissions.models import Booking, Posting, Slot, Stuck, TurnIn
from submissions.turn_ins import services as turn_ins

MEANWHILE = "This booking changed meanwhile; open the page again to see where it stands."


@transaction.atomic
def is_here(*, booking: Booking, posting: Posting | None, by: User, at: datetime) -> Booking:
    """The student plays now: what was booked to turn in is in, to be marked live. Pressed twice, once.

    `posting` is where the assignment reaches this student, None when the time is for help alone.
    """
    row = _locked(booking)
    if row.state == Booking.State.CAME:
        return row
    _move(row, to=Booking.State.CAME, at=at)
    if posting is not None:
        turn_ins.open_live(seat=row.seat, posting=posting, by=by, at=at)
    return row


@transaction.atomic
def did_not_come(*, booking: Booking, at: datetime) -> Booking:
    """Nothing is in, nothing is a zero; the student can book again."""
    row = _locked(booking)
    if row.state == Booking.State.ABSENT:
        return row
    if row.state == Booking.State.CAME:
        raise Refused("This student was here; press “Not here after all” first.")
    if row.slot.starts_at > at:
        raise Refused("It has not started yet, so nobody is absent; wait until it has.")
    _move(row, to=Booking.State.ABSENT, at=at)
    return row


@transaction.atomic
def take_back(*, booking: Booking, turn_in: TurnIn | None, by: User, at: datetime) -> Booking:
    """Undo "here" or "did not come". Refused once marks were given, so that none is lost."""
    row = _locked(booking)
    if row.state == Booking.State.BOOKED:
        return row
    opened_live = turn_in is not None and turn_in.route != TurnIn.Route.RECORDING
    if row.state == Booking.State.CAME and opened_live and turn_in is not None:
        if turn_in.attempt > 1:
            raise Refused("This is another try of work that came back before, so it stays open to be marked.")
        turn_ins.close_live(turn_in=turn_in, by=by, at=at)
    _move(row, to=Booking.State.BOOKED, at=at)
    return row


@transaction.atomic
def was_helped(*, booking: Booking, at: datetime) -> int:
    """What the student was stuck at is solved; the number of places. The student was here."""
    row = _locked(booking)
    solved = Stuck.objects.filter(
        seat__student=row.seat.student_id,
        seat__section__band=row.slot.band_id,
        at__lte=at,
        helped_at__isnull=True,
    ).update(helped_at=at)
    if row.state != Booking.State.CAME:
        _move(row, to=Booking.State.CAME, at=at)
    return solved


def _locked(booking: Booking) -> Booking:
    row = (
        Booking.objects.select_for_update(of=("self",))
        .select_related("slot", "seat__student")
        .get(pk=booking.pk)
    )
    if row.slot.cancelled_at is not None:
        raise Refused("This time was cancelled; there is nobody to call.")
    if row.state == Booking.State.CANCELLED:
        raise Refused("The student cancelled this booking meanwhile.")
    return row


def _move(row: Booking, *, to: Booking.State, at: datetime) -> None:
    moved = Booking.objects.filter(pk=row.pk, state=row.state).update(state=to, changed_at=at)
    if not moved:
        raise Refused(MEANWHILE)
    row.state, row.changed_at = to, at
    Slot.objects.filter(pk=row.slot_id, opened_at__isnull=True).update(opened_at=at)
