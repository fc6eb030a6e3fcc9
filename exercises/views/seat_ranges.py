"""One student's own range: a beginner who has only six notes, or one who is far ahead."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.timezone import now
from django.views.decorators.http import require_http_methods, require_POST

from bandroom.people.access import director_or_404, signed_in
from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Seat
from exercises.forms.ranges import RangeForm
from exercises.models import SeatRange
from exercises.parts import ranges_of
from exercises.services import ranges


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def seat_range(request: HttpRequest, pk: int) -> HttpResponse:
    membership = director_or_404(request)
    seat = _seat_or_404(membership.band, pk)
    player = Instrument(seat.instrument)
    usual = ranges_of(band=membership.band, instrument=player)
    if usual is None:
        raise Http404
    own = SeatRange.objects.filter(seat=seat).select_related("changed_by").first()
    sent = request.POST if request.method == "POST" else None
    form = RangeForm(sent, ranges=own.ranges if own else usual)
    if form.is_valid():
        ranges.choose_own_range(seat=seat, ranges=form.ranges(), by=membership.user, at=now())
        messages.success(request, f"{seat.student}: the range is saved. Students do not see it.")
        return redirect(_back(player))
    return render(
        request,
        "exercises/seat_range.html",
        {"seat": seat, "player": player, "usual": usual, "own": own, "form": form},
        status=422 if form.is_bound else 200,
    )


@require_POST
@signed_in
def range_of_the_band(request: HttpRequest, pk: int) -> HttpResponse:
    seat = _seat_or_404(director_or_404(request).band, pk)
    if ranges.range_of_the_band(seat=seat):
        messages.success(request, f"{seat.student}: the range of the band holds again.")
    return redirect(_back(Instrument(seat.instrument)))


def _seat_or_404(band: Band, pk: int) -> Seat:
    seats = Seat.objects.select_related("student", "section")
    return get_object_or_404(seats, pk=pk, section__band=band, until__isnull=True)


def _back(player: Instrument) -> str:
    return f"{reverse('exercises:ranges')}#{player.value}"
