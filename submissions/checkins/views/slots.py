"""The list of times, seen by staff in one way and by students in another; one time as a student sees it."""

from datetime import date, datetime, timedelta

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.timezone import now
from django.views.decorators.http import require_safe

from bandroom.people.access import membership_or_404, signed_in
from bandroom.people.models import Membership
from submissions.assigning.deadlines import monday_of
from submissions.checkins import feeds, queries
from submissions.checkins.views.booking import pick_page
from submissions.models import Booking, Slot
from submissions.turn_ins.own_work import own_seats

A_PAGE = timedelta(weeks=queries.WEEKS_A_PAGE)


@require_safe
@signed_in
def slots(request: HttpRequest) -> HttpResponse:
    """Staff see who comes when; students what they can book and what they have booked."""
    membership = membership_or_404(request)
    if membership.is_student:
        return pick_page(request, membership)
    return _staff_list(request, membership)


def _staff_list(request: HttpRequest, membership: Membership) -> HttpResponse:
    band, at = membership.band, now()
    this_monday = queries.this_monday(band=band, at=at)
    monday = _monday(request.GET.get("from", "")) or this_monday
    context = {
        "band": band,
        "at": at,
        "sittings": queries.sittings_of_weeks(band=band, monday=monday),
        "next_slot": queries.next_time(band=band, at=at),
        "needs": queries.need_a_time(band=band, at=at),
        "is_now": monday == this_monday,
        "last_day": monday + A_PAGE - timedelta(days=1),
        "monday": monday,
        "before": monday - A_PAGE,
        "after": monday + A_PAGE,
        "has_feed": feeds.has_feed(membership),
    }
    return render(request, "submissions/checkins/slots.html", context)


def _monday(text: str) -> date | None:
    """The Monday of the day in the address; None for no day, or one that no calendar needs."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return None
    return monday_of(day) if 2000 <= day.year < 2100 else None


def students_slot(request: HttpRequest, membership: Membership, found: Slot) -> HttpResponse:
    """Link and passcode only while the student's own booking holds."""
    at = now()
    booking = (
        Booking.objects.filter(slot=found, seat__student=membership.user)
        .exclude(state=Booking.State.CANCELLED)
        .select_related("slot", "seat", "assignment__exercise")
        .order_by("-booked_at")
        .first()
    )
    if booking is None and not _can_see(membership, found):
        raise Http404
    context = {
        "slot": found,
        "band": membership.band,
        "at": at,
        "booking": booking,
        "can_change": booking is not None and booking.holds and found.starts_at > at,
        "shows_link": booking is not None and booking.holds and _is_not_over(found, at),
    }
    return render(request, "submissions/checkins/slot_student.html", context)


def _can_see(membership: Membership, found: Slot) -> bool:
    sections = {seat.section_id for seat in own_seats(student=membership.user, band=membership.band)}
    return found.sections.filter(pk__in=sections).exists()


def _is_not_over(found: Slot, at: datetime) -> bool:
    return found.ends_at > at
