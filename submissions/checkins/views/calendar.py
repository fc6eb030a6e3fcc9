"""Check-ins in a person's own calendar: one time as a file, and a private address that keeps up to date."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from bandroom.people.access import membership_or_404, signed_in
from submissions.checkins import feeds
from submissions.checkins.calendars import AddressOf, Entry, calendar, staff_entry, student_entry
from submissions.checkins.views.opening import slot_or_404
from submissions.models import Booking, Slot

CALENDAR = "text/calendar; charset=utf-8"
FILE_NAME = "check-in.ics"


@require_safe
@signed_in
def slot_file(request: HttpRequest, pk: int) -> HttpResponse:
    """One time. A student gets it for an own booking alone, cancelled ones too, so that they go away."""
    membership = membership_or_404(request)
    slot = slot_or_404(band=membership.band, pk=pk)
    bookings = Booking.objects.filter(slot=slot).select_related(
        "slot", "seat__student", "assignment__exercise"
    )
    if membership.is_student:
        own = bookings.filter(seat__student=membership.user).order_by("booked_at", "pk")
        entries = [student_entry(booking) for booking in own]
        if not entries:
            raise Http404
    else:
        coming = bookings.exclude(state=Booking.State.CANCELLED).order_by("booked_at", "pk")
        entries = [staff_entry(slot, coming)]
    response = _answer(request, entries, name=membership.band.name)
    response["Content-Disposition"] = f'attachment; filename="{FILE_NAME}"'
    return response


@require_safe
def feed(request: HttpRequest, secret: str) -> HttpResponse:
    """For a calendar program: no session, the secret is the key."""
    member = feeds.member_of(secret)
    if member is None:
        raise Http404
    return _answer(
        request, feeds.entries_of(member, at=now()), name=_("Check-ins, {band}").format(band=member.band.name)
    )


@require_POST
@signed_in
def feed_new(request: HttpRequest) -> HttpResponse:
    """Make the address, or a new one in place of the old; it is shown on this one page only."""
    membership = membership_or_404(request)
    secret = feeds.make_feed(user=membership.user, band=membership.band, at=now())
    address = request.build_absolute_uri(reverse("submissions:calendar", args=[secret]))
    context = {"address": address, "is_staff": membership.is_staff}
    response = render(request, "submissions/checkins/calendar_address.html", context)
    response["Cache-Control"] = "no-store"
    return response


@require_POST
@signed_in
def feed_end(request: HttpRequest) -> HttpResponse:
    membership = membership_or_404(request)
    feeds.end_feed(user=membership.user, band=membership.band)
    messages.success(request, _("The calendar address is ended; whoever had it sees nothing any more."))
    return redirect("submissions:slots")


def _answer(request: HttpRequest, entries: list[Entry], *, name: str) -> HttpResponse:
    response = HttpResponse(
        calendar(entries, name=name, address_of=_addresses(request)), content_type=CALENDAR
    )
    response["Cache-Control"] = "private, no-cache"
    return response


def _addresses(request: HttpRequest) -> AddressOf:
    def address_of(slot: Slot) -> str:
        return request.build_absolute_uri(reverse("submissions:slot", args=[slot.pk]))

    return address_of
