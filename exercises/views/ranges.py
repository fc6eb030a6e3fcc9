"""What the band's players can reach, instrument by instrument; the director moves it through the year."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.views.decorators.http import require_http_methods, require_POST

from bandroom.people.access import director_or_404, signed_in
from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Seat
from bandroom.people.queries import open_seats
from exercises.forms.ranges import RangeForm
from exercises.models import RangeChoice
from exercises.music.instruments import INSTRUMENTS, Ranges
from exercises.parts import ranges_of
from exercises.services.ranges import choose_ranges, usual_ranges
from exercises.views.parts import instrument_or_404

PITCHED = tuple(each for each in Instrument if INSTRUMENTS[each].pitched)


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def ranges(request: HttpRequest) -> HttpResponse:
    """All instruments; one of them is sent at a time."""
    membership = director_or_404(request)
    band = membership.band
    if request.method != "POST":
        return _page(request, band=band)
    player = _pitched_or_404(request.POST.get("instrument", ""))
    form = RangeForm(request.POST, ranges=_ranges(band, player), prefix=player.value)
    if not form.is_valid():
        return _page(request, band=band, wrong=(player, form))
    choose_ranges(band=band, instrument=player, ranges=form.ranges(), by=membership.user, at=now())
    messages.success(request, f"{player.label}: the range is saved, and every part follows it.")
    return redirect("exercises:ranges")


@require_POST
@signed_in
def usual_range(request: HttpRequest, instrument: str) -> HttpResponse:
    band = director_or_404(request).band
    player = _pitched_or_404(instrument)
    if usual_ranges(band=band, instrument=player):
        messages.success(request, f"{player.label}: back to what is usual for a first year.")
    return redirect("exercises:ranges")


def _page(
    request: HttpRequest, *, band: Band, wrong: tuple[Instrument, RangeForm] | None = None
) -> HttpResponse:
    own = {
        choice.instrument: choice
        for choice in RangeChoice.objects.filter(band=band).select_related("changed_by")
    }
    seats: dict[str, list[Seat]] = {}
    for seat in open_seats(band).select_related("student", "own_range").in_score_order():
        seats.setdefault(seat.instrument, []).append(seat)
    rows = [
        (
            player,
            wrong[1]
            if wrong and wrong[0] is player
            else RangeForm(ranges=_ranges(band, player), prefix=player.value),
            own.get(player),
            INSTRUMENTS[player].cautions,
            seats.get(player, ()),
        )
        for player in PITCHED
    ]
    return render(
        request,
        "exercises/ranges.html",
        {"rows": rows, "band": band, "wrong": wrong[1] if wrong else None},
        status=422 if wrong else 200,
    )


def _ranges(band: Band, player: Instrument) -> Ranges:
    found = ranges_of(band=band, instrument=player)
    assert found is not None  # noqa: S101 - only pitched instruments come here
    return found


def _pitched_or_404(instrument: str) -> Instrument:
    player = instrument_or_404(instrument)
    if player not in PITCHED:
        raise Http404
    return player
