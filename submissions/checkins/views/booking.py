"""Booking a time: by a student, and by a director for a student who cannot do it alone."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
from django.views.decorators.http import require_http_methods, require_POST

from bandroom.people.access import director_or_404, signed_in, student_or_404
from bandroom.people.models import Band, Membership, Seat, User
from bandroom.people.templatetags.look import band_time
from submissions.checkins import feeds, queries
from submissions.checkins.queries import Sitting
from submissions.checkins.services import booking as services
from submissions.checkins.views.opening import number_or_none, own_booking_or_404
from submissions.errors import Refused
from submissions.models import Assignment, Booking, Slot
from submissions.turn_ins.own_work import OwnPosting, own_posting

#: How far ahead help can be booked.
HELP_AHEAD = timedelta(weeks=4)
CHOOSE = gettext_noop("Choose a time first.")


@dataclass(frozen=True, slots=True)
class Wish:
    """What a time is for: `own` to play an assignment, else help alone."""

    own: OwnPosting | None

    @property
    def assignment(self) -> Assignment | None:
        return self.own.posting.assignment if self.own else None

    @property
    def query(self) -> str:
        return f"?assignment={self.assignment.pk}" if self.assignment else "?help=1"


@require_POST
@signed_in
def book(request: HttpRequest) -> HttpResponse:
    membership = student_or_404(request)
    at = now()
    wish = _wish(request.POST.get("assignment", ""), membership, at)
    slot = _slot(request, membership.band)
    try:
        if slot is None:
            raise Refused(_no_slot_words(request))
        seat = _seat(membership, slot, wish, at)
        booking = services.book(
            slot=slot,
            seat=seat,
            assignment=wish.assignment,
            wants_help="wants_help" in request.POST,
            at=at,
        )
    except Refused as refused:
        return pick_page(request, membership, wish=wish, problem=refused.sentence)
    messages.success(
        request, _("Booked: {time}.").format(time=band_time(booking.slot.starts_at, membership.band))
    )
    return redirect("submissions:slot", pk=booking.slot_id)


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def booking_move(request: HttpRequest, pk: int) -> HttpResponse:
    """Choose another time for what is booked; the old one is kept until the new one is got."""
    membership, booking = own_booking_or_404(request, pk)
    at = now()
    if request.method == "POST":
        slot = _slot(request, membership.band)
        try:
            if slot is None:
                raise Refused(_no_slot_words(request))
            booking = services.move(booking=booking, slot=slot, at=at)
        except Refused as refused:
            return pick_page(
                request, membership, wish=_wish_of(booking, at), moving=booking, problem=refused.sentence
            )
        messages.success(
            request, _("Moved to {time}.").format(time=band_time(booking.slot.starts_at, membership.band))
        )
        return redirect("submissions:slot", pk=booking.slot_id)
    if not booking.holds or booking.slot.starts_at <= at:
        messages.info(request, _(services.NOT_OPEN))
        return redirect("submissions:slots")
    return pick_page(request, membership, wish=_wish_of(booking, at), moving=booking)


@require_POST
@signed_in
def booking_cancel(request: HttpRequest, pk: int) -> HttpResponse:
    membership, booking = own_booking_or_404(request, pk)
    try:
        services.cancel(booking=booking, at=now())
    except Refused as refused:
        messages.error(request, refused.sentence)
    else:
        when = band_time(booking.slot.starts_at, membership.band)
        messages.success(request, _("{time} is free again for others.").format(time=when))
    return redirect("submissions:slots")


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def book_for(request: HttpRequest, assignment: int, seat: int) -> HttpResponse:
    """A director offers a time to a student, who sees it as booked."""
    membership = director_or_404(request)
    band, at = membership.band, now()
    own = _own_of(band, assignment=assignment, seat=seat, at=at)
    slot = _slot(request, band)
    problem = ""
    if request.method == "POST":
        try:
            if slot is None:
                raise Refused(_no_slot_words(request))
            services.book(
                slot=slot, seat=own.seat, assignment=own.posting.assignment, wants_help=False, at=at
            )
        except Refused as refused:
            problem = refused.sentence
        else:
            name = own.seat.student.first_name
            messages.success(request, f"{band_time(slot.starts_at, band)} is booked for {name}.")
            return redirect("submissions:slots")
    context = {
        "own": own,
        "band": band,
        "at": at,
        "sittings": _offers(band, Wish(own), [own.seat], at),
        "problem": problem,
        "chosen": slot.pk if slot else None,
    }
    return render(request, "submissions/checkins/book_for.html", context, status=409 if problem else 200)


def pick_page(
    request: HttpRequest,
    membership: Membership,
    *,
    wish: Wish | None = None,
    moving: Booking | None = None,
    problem: str = "",
) -> HttpResponse:
    """What a student can book, and what is booked. `moving` is the booking that looks for another time."""
    band, at = membership.band, now()
    can_play = queries.can_play_live(student=membership.user, band=band, at=at)
    seats = queries.seats_today(student=membership.user, band=band, at=at)
    booked = queries.own_bookings(student=membership.user, band=band, at=at)
    has_time = {one.assignment_id for one in booked if one.holds}
    if wish is None:
        wish = _asked_wish(request, can_play, has_time)
    chosen_pk = wish.assignment.pk if wish.assignment else None
    is_booked = moving is None and chosen_pk in has_time
    chosen = number_or_none(request.POST.get("slot", ""))
    context = {
        "band": band,
        "at": at,
        "wish": wish,
        "can_play": can_play,
        "booked": booked,
        "booked_slots": {one.slot_id for one in booked if one.holds},
        "is_booked": is_booked,
        "sittings": () if is_booked else _offers(band, wish, seats, at),
        "moving": moving,
        "problem": problem,
        "chosen": chosen,
        "wants_help": "wants_help" in request.POST,
        "may_record": membership.may_record
        and wish.assignment is not None
        and wish.assignment.takes_recordings,
        "has_feed": feeds.has_feed(membership),
    }
    return render(request, "submissions/checkins/pick.html", context, status=409 if problem else 200)


def _offers(band: Band, wish: Wish, seats: list[Seat], at: datetime) -> tuple[Sitting, ...]:
    if wish.own is not None:
        return queries.offered(
            band=band,
            sections=[wish.own.seat.section_id],
            purposes=Slot.FOR_TURNING_IN,
            at=at,
            until=wish.own.posting.closes_at,
        )
    return queries.offered(
        band=band,
        sections=[seat.section_id for seat in seats],
        purposes=Slot.FOR_HELP,
        at=at,
        until=at + HELP_AHEAD,
    )


def _asked_wish(request: HttpRequest, can_play: list[OwnPosting], has_time: set[int | None]) -> Wish:
    """What the address asks for; else what is to be played next and has no time yet; else help."""
    asked = number_or_none(request.GET.get("assignment", ""))
    if "help" in request.GET:
        return Wish(None)
    named = [own for own in can_play if own.posting.assignment_id == asked]
    open_yet = [own for own in can_play if own.posting.assignment_id not in has_time]
    return Wish(next(iter((*named, *open_yet, *can_play)), None))


def _wish(text: str, membership: Membership, at: datetime) -> Wish:
    """What a form asks for. An assignment that is not the student's own is nobody's: 404."""
    if not text:
        return Wish(None)
    pk = number_or_none(text)
    own = pk and own_posting(student=membership.user, band=membership.band, assignment_pk=pk, at=at)
    if not own:
        raise Http404
    return Wish(own)


def _wish_of(booking: Booking, at: datetime) -> Wish:
    if booking.assignment_id is None:
        return Wish(None)
    student: User = booking.seat.student
    return Wish(
        own_posting(student=student, band=booking.slot.band, assignment_pk=booking.assignment_id, at=at)
    )


def _own_of(band: Band, *, assignment: int, seat: int, at: datetime) -> OwnPosting:
    found = get_object_or_404(Seat.objects.select_related("student", "section"), section__band=band, pk=seat)
    own = own_posting(student=found.student, band=band, assignment_pk=assignment, at=at)
    if own is None or own.seat.pk != found.pk:
        raise Http404
    return own


def _seat(membership: Membership, slot: Slot, wish: Wish, at: datetime) -> Seat:
    """The seat a time is booked with: the assignment's, or one that the time is for."""
    if wish.own is not None:
        return wish.own.seat
    seats = queries.seats_today(student=membership.user, band=membership.band, at=at)
    if not seats:
        raise Refused(_("You have no seat in the band today; ask your director to seat you first."))
    sections = set(slot.sections.values_list("pk", flat=True))
    return next((seat for seat in seats if seat.section_id in sections), seats[0])


def _slot(request: HttpRequest, band: Band) -> Slot | None:
    pk = number_or_none(request.POST.get("slot", ""))
    return Slot.objects.select_related("band").filter(band=band, pk=pk).first() if pk else None


def _no_slot_words(request: HttpRequest) -> str:
    return _(services.GONE if request.POST.get("slot") else CHOOSE)
