"""A check-in on the day: one student after the other, marked as they play."""

from collections.abc import Callable
from datetime import datetime

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import now
from django.views.decorators.http import require_POST, require_safe

from bandroom.people.access import membership_or_404, signed_in
from submissions.checkins import queries
from submissions.checkins.queries import Booked
from submissions.checkins.services import meeting
from submissions.checkins.views.opening import address_of, slot_or_404, staff_booking_or_404
from submissions.checkins.views.slots import students_slot
from submissions.errors import Refused
from submissions.grading.views.desk import EARS, note_fields
from submissions.grading.views.sheet import Page, refused_on, sent
from submissions.live import student
from submissions.models import Booking, Posting, Slot


@require_safe
@signed_in
def slot(request: HttpRequest, pk: int) -> HttpResponse:
    """Staff meet the students there; a student sees when and where it is."""
    membership = membership_or_404(request)
    found = slot_or_404(band=membership.band, pk=pk)
    if membership.is_student:
        return students_slot(request, membership, found)
    return _live_page(request, found, wanted=request.GET.get("booking", ""))


def _live_page(
    request: HttpRequest,
    slot: Slot,
    *,
    wanted: str,
    problem: str = "",
    unmarked: bool = False,
    keep: bool = False,
    status: int = 200,
) -> HttpResponse:
    """One time, with the booking `wanted` or the one to call; `keep` shows again what was posted."""
    at = now()
    sitting = queries.sitting_of(slot)
    called = student.called(sitting, slot=slot, wanted=wanted)
    booking = called.booking if called else None
    following = sitting.next_after(booking)
    context: dict[str, object] = {
        "slot": slot,
        "band": slot.band,
        "at": at,
        "sitting": sitting,
        "called": called,
        "in_slot": [one for time in sitting.times if time.slot.pk == slot.pk for one in time.booked],
        "clock": student.clock_of(slot, called),
        "next": following,
        "next_href": address_of(following.booking) if following else "",
        "return_words": _return_words(following),
        "problem": problem,
        "ask_unmarked": unmarked,
        "section_list": list(slot.sections.all()),
        "can_edit": slot.cancelled_at is None and slot.ends_at > at,
    }
    if called is not None and slot.cancelled_at is None:
        context |= _called_context(request, called.booking, at=at, keep=keep)
    return render(request, "submissions/checkins/live.html", context, status=status)


@require_POST
@signed_in
def booking_here(request: HttpRequest, pk: int) -> HttpResponse:
    membership, booking = staff_booking_or_404(request, pk)
    at = now()
    work = student.played(booking, at=at)
    posting: Posting | None = work.row.posting if work and work.row else None
    return _stay(
        request,
        booking,
        lambda: meeting.is_here(booking=booking, posting=posting, by=membership.user, at=at),
    )


@require_POST
@signed_in
def booking_absent(request: HttpRequest, pk: int) -> HttpResponse:
    """Did not come; goes on to the next student."""
    _, booking = staff_booking_or_404(request, pk)
    try:
        meeting.did_not_come(booking=booking, at=now())
    except Refused as refused:
        return refused_on(request, page=_page_of(request, booking), refused=refused)
    messages.success(
        request, f"{booking.seat.student.first_name} did not come. No mark is given; it can be booked again."
    )
    return redirect(_next_address(booking))


@require_POST
@signed_in
def booking_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Take "here" or "did not come" back."""
    membership, booking = staff_booking_or_404(request, pk)
    at = now()
    work = student.played(booking, at=at)
    return _stay(
        request,
        booking,
        lambda: meeting.take_back(
            booking=booking, turn_in=work.turn_in if work else None, by=membership.user, at=at
        ),
    )


@require_POST
@signed_in
def booking_helped(request: HttpRequest, pk: int) -> HttpResponse:
    _, booking = staff_booking_or_404(request, pk)
    try:
        solved = meeting.was_helped(booking=booking, at=now())
    except Refused as refused:
        return refused_on(request, page=_page_of(request, booking), refused=refused)
    name = booking.seat.student.first_name
    places = f" {solved} place{'' if solved == 1 else 's'} solved." if solved else ""
    messages.success(request, f"{name} was helped.{places}")
    return redirect(address_of(booking))


@require_POST
@signed_in
def booking_return(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep all that the page holds, give it back to the student, and call the next: as on the desk."""
    _, booking = staff_booking_or_404(request, pk)
    at = now()
    work = student.played(booking, at=at)
    turn_in = work.turn_in if work else None
    if turn_in is None:
        raise Http404
    return sent(
        request,
        turn_in=turn_in,
        page=_page_of(request, booking),
        here=lambda: address_of(booking),
        onward=lambda: _next_address(booking),
    )


def _called_context(request: HttpRequest, booking: Booking, *, at: datetime, keep: bool) -> dict[str, object]:
    takes = {
        name.removeprefix("take-"): request.GET.get(name, "")
        for name in request.GET
        if name.startswith("take-")
    }
    work = student.played(booking, at=at, choice_of_takes=takes, posted=request.POST.dict() if keep else None)
    stuck = student.stuck_of(booking)
    context: dict[str, object] = {"stuck": stuck}
    if booking.assignment_id is None:
        context["help_lines"] = student.help_lines(booking, stuck=stuck, at=at)
    if work is None or work.row is None or work.stand is None:
        return context
    return context | {
        "assignment": work.assignment,
        "row": work.row,
        "stand": work.stand,
        "note_fields": note_fields(work.stand),
        "ears": EARS,
        "ear_url": reverse("submissions:desk-ear", args=[work.assignment.pk, work.row.seat.pk]),
        "plays_late": work.row.turn_in is None and at > work.row.posting.due_at,
    }


def _return_words(following: Booked | None) -> str:
    return f"Return and call {following.student.first_name}" if following else "Return"


def _next_address(booking: Booking) -> str:
    following = queries.sitting_of(booking.slot).next_after(booking)
    return address_of(following.booking if following else booking)


def _stay(request: HttpRequest, booking: Booking, move: Callable[[], Booking]) -> HttpResponse:
    try:
        move()
    except Refused as refused:
        return refused_on(request, page=_page_of(request, booking), refused=refused)
    return redirect(address_of(booking))


def _page_of(request: HttpRequest, booking: Booking) -> Page:
    return lambda **shown: _live_page(request, booking.slot, wanted=str(booking.pk), **shown)
