"""What the views open first: a time, a booking, the address to go to; strangers get 404."""

from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.urls import reverse

from bandroom.people.access import staff_or_404, student_or_404
from bandroom.people.models import Band, Membership
from submissions.models import Booking, Slot

BOOKINGS = Booking.objects.select_related(
    "slot__band", "seat__student", "seat__section", "assignment__exercise"
)


def slot_or_404(*, band: Band, pk: int) -> Slot:
    return get_object_or_404(Slot.objects.select_related("band"), band=band, pk=pk)


def staff_booking_or_404(request: HttpRequest, pk: int) -> tuple[Membership, Booking]:
    """A booking in the band, for its staff; a cancelled one is nobody's business any more."""
    membership = staff_or_404(request)
    bookings = BOOKINGS.exclude(state=Booking.State.CANCELLED)
    return membership, get_object_or_404(bookings, slot__band=membership.band, pk=pk)


def own_booking_or_404(request: HttpRequest, pk: int) -> tuple[Membership, Booking]:
    """A student's own booking, whatever became of it."""
    membership = student_or_404(request)
    return membership, get_object_or_404(
        BOOKINGS, slot__band=membership.band, seat__student=membership.user, pk=pk
    )


def address_of(booking: Booking) -> str:
    """Where staff meet this student."""
    return f"{reverse('submissions:slot', args=[booking.slot_id])}?booking={booking.pk}"


def number_or_none(text: str) -> int | None:
    """A row's number as a form or an address names it."""
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= 18 else None
