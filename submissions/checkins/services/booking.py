"""The moves of a student's booking: taken, moved to another time, cancelled.

The student's row is locked first, so that two phones of one student take turns; a place is taken by one
conditional update, so that of two students who press at once for the last place one gets it.
"""

from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from bandroom.people.models import Seat, User
from bandroom.people.templatetags.look import band_time
from submissions.errors import Refused
from submissions.models import Assignment, Booking, Slot
from submissions.turn_ins.own_work import own_posting

GONE = gettext_noop("Your director took this time away; choose another time.")
FULL = gettext_noop("The last place at this time is taken; choose another time.")
NOT_OPEN = gettext_noop("This booking is not open any more; look at your times below.")
STARTED = gettext_noop("This time has started already; choose a later one.")


@transaction.atomic
def book(*, slot: Slot, seat: Seat, assignment: Assignment | None, wants_help: bool, at: datetime) -> Booking:
    """Take a place: to turn in `assignment`, for help, or both.

    Booked again, nothing is taken twice; what the time is for follows the newest wish.
    """
    _lock_student(seat)
    slot = _as_it_is_now(slot)
    _check_fit(slot=slot, seat=seat, assignment=assignment, wants_help=wants_help, at=at)
    held = _held(student_id=seat.student_id, at=at)
    same = next((booking for booking in held if booking.slot_id == slot.pk), None)
    others = [booking for booking in held if booking is not same]
    _check_free(others, slot=slot, assignment=assignment, wants_help=wants_help)
    if same is not None:
        return _meant_for(same, seat=seat, assignment=assignment, wants_help=wants_help, at=at)
    _take_place(slot=slot, at=at)
    return Booking.objects.create(
        slot=slot, seat=seat, assignment=assignment, wants_help=wants_help, booked_at=at, changed_at=at
    )


@transaction.atomic
def move(*, booking: Booking, slot: Slot, at: datetime) -> Booking:
    """To another time, in one step: the old place is kept unless the new one was got."""
    _lock_student(booking.seat)
    # two students who swap must not wait for each other
    list(Slot.objects.select_for_update().filter(pk__in=(booking.slot_id, slot.pk)).order_by("pk"))
    slot = _as_it_is_now(slot)
    row = _still_booked(booking, at=at)
    if row.slot_id == slot.pk:
        return row
    _check_fit(slot=slot, seat=row.seat, assignment=row.assignment, wants_help=row.wants_help, at=at)
    others = [other for other in _held(student_id=row.seat.student_id, at=at) if other.pk != row.pk]
    _check_free(others, slot=slot, assignment=row.assignment, wants_help=row.wants_help)
    _take_place(slot=slot, at=at)
    _give_back(slot_id=row.slot_id)
    _change(row, slot=slot, sequence=row.sequence + 1 + row.slot.sequence, changed_at=at)
    return row


@transaction.atomic
def cancel(*, booking: Booking, at: datetime) -> Booking:
    """Give the place back. Cancelled again, nothing changes."""
    _lock_student(booking.seat)
    now = Booking.objects.select_related("slot").get(pk=booking.pk)
    if now.state == Booking.State.CANCELLED:
        return now
    row = _still_booked(booking, at=at)
    _change(row, state=Booking.State.CANCELLED, sequence=row.sequence + 1, changed_at=at)
    _give_back(slot_id=row.slot_id)
    return row


def _as_it_is_now(slot: Slot) -> Slot:
    row = Slot.objects.select_related("band").filter(pk=slot.pk).first()
    if row is None:
        raise Refused(_(GONE))
    return row


def _lock_student(seat: Seat) -> None:
    User.objects.select_for_update(no_key=True).get(pk=seat.student_id)


def _still_booked(booking: Booking, *, at: datetime) -> Booking:
    row = Booking.objects.select_related("slot__band", "seat__student", "assignment").get(pk=booking.pk)
    if row.state != Booking.State.BOOKED:
        raise Refused(_(NOT_OPEN))
    if row.slot.cancelled_at is not None:
        raise Refused(_("Your director cancelled this time; book another one below."))
    if row.slot.starts_at <= at:
        raise Refused(
            _("It has started, so it cannot be changed any more; tell your director if you cannot come.")
        )
    return row


def _check_fit(
    *, slot: Slot, seat: Seat, assignment: Assignment | None, wants_help: bool, at: datetime
) -> None:
    """Whether this time can be had for this purpose by this student at all."""
    if assignment is None and not wants_help:
        raise Refused(_("Say what the time is for: to play an assignment, for help, or both."))
    if assignment is not None and not slot.takes_turn_ins:
        raise Refused(_("This time is for help only; choose another to play your lines."))
    if wants_help and not slot.gives_help:
        raise Refused(_("This time is for turning in only; choose another for help."))
    if not slot.sections.filter(pk=seat.section_id).exists():
        raise Refused(_("This time is for other sections; choose one that is for yours."))
    if assignment is not None:
        _check_assignment(slot=slot, seat=seat, assignment=assignment, at=at)


def _check_assignment(*, slot: Slot, seat: Seat, assignment: Assignment, at: datetime) -> None:
    own = own_posting(student=seat.student, band=slot.band, assignment_pk=assignment.pk, at=at)
    if own is None or own.seat.pk != seat.pk:
        raise Refused(_("This assignment is not yours to play; open it from your work again."))
    if not assignment.takes_check_ins:
        raise Refused(_("This assignment is turned in by recording; book a time for help instead."))
    if slot.starts_at >= own.posting.closes_at:
        closes = band_time(own.posting.closes_at, slot.band)
        words = _("{assignment} closes {time}, before this time; choose an earlier one.")
        raise Refused(words.format(assignment=assignment, time=closes))


def _held(*, student_id: int, at: datetime) -> list[Booking]:
    """What the student has booked that is not over."""
    bookings = Booking.objects.filter(
        seat__student=student_id,
        state=Booking.State.BOOKED,
        slot__cancelled_at__isnull=True,
        slot__ends_at__gt=at,
    )
    return list(bookings.select_related("slot__band"))


def _check_free(held: list[Booking], *, slot: Slot, assignment: Assignment | None, wants_help: bool) -> None:
    for other in held:
        when = band_time(other.slot.starts_at, other.slot.band)
        if other.slot.starts_at < slot.ends_at and slot.starts_at < other.slot.ends_at:
            words = _("You have another time then: {time}. Move or cancel that one first.")
            raise Refused(words.format(time=when))
        if assignment is not None and other.assignment_id == assignment.pk:
            words = _("You have a time for {assignment} already: {time}. Move that one instead.")
            raise Refused(words.format(assignment=assignment, time=when))
        if assignment is None and wants_help and other.assignment_id is None:
            words = _("You have a time for help already: {time}. Move that one instead.")
            raise Refused(words.format(time=when))


def _take_place(*, slot: Slot, at: datetime) -> None:
    taken = Slot.objects.filter(
        pk=slot.pk, cancelled_at__isnull=True, starts_at__gt=at, taken__lt=F("capacity")
    ).update(taken=F("taken") + 1)
    if taken:
        return
    now = Slot.objects.filter(pk=slot.pk).first()
    if now is None:
        raise Refused(_(GONE))
    if now.cancelled_at is not None:
        raise Refused(_("Your director cancelled this time; choose another time."))
    raise Refused(_(STARTED if now.starts_at <= at else FULL))


def _change(row: Booking, **values: Any) -> None:
    if not Booking.objects.filter(pk=row.pk, state=Booking.State.BOOKED).update(**values):
        raise Refused(_(NOT_OPEN))
    for name, value in values.items():
        setattr(row, name, value)


def _give_back(*, slot_id: int) -> None:
    Slot.objects.filter(pk=slot_id, taken__gt=0).update(taken=F("taken") - 1)


def _meant_for(
    booking: Booking, *, seat: Seat, assignment: Assignment | None, wants_help: bool, at: datetime
) -> Booking:
    wanted = (seat.pk, assignment.pk if assignment else None, wants_help)
    if (booking.seat_id, booking.assignment_id, booking.wants_help) != wanted:
        booking.seat, booking.assignment, booking.wants_help = seat, assignment, wants_help
        booking.changed_at = at
        booking.save(update_fields=["seat", "assignment", "wants_help", "changed_at"])
    return booking
