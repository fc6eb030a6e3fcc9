"""A director's times: made, changed, cancelled, deleted."""

from collections.abc import Sequence
from datetime import date, datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.views.decorators.http import require_http_methods, require_POST

from bandroom.people.access import director_or_404, signed_in
from bandroom.people.models import Band
from bandroom.people.templatetags.look import band_time
from submissions.checkins.forms import SeriesForm, SlotForm
from submissions.checkins.services import timetable
from submissions.checkins.times import SlotTime
from submissions.checkins.views.opening import slot_or_404
from submissions.errors import Refused
from submissions.models import Slot


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def slots_new(request: HttpRequest) -> HttpResponse:
    """New times. The button "Show the times" posts here too and makes nothing."""
    band = director_or_404(request).band
    at = now()
    form = SeriesForm(request.POST or None, band=band, at=at)
    only_shown = request.POST.get("do") == "show"
    if form.is_valid() and not only_shown:
        data = form.cleaned_data
        try:
            made = timetable.make_slots(
                band=band,
                sections=data["sections"],
                first_starts_at=data["first_starts_at"],
                minutes=data["minutes"],
                count=data["count"],
                weeks=data["weeks"],
                capacity=data["capacity"],
                place=form.where.place,
                link=form.where.link,
                passcode=form.where.passcode,
                purpose=Slot.Purpose(data["purpose"]),
                series=data["series"],
                at=at,
            )
        except Refused as refused:
            form.add_error(None, refused.sentence)
        else:
            times = "One time is" if len(made) == 1 else f"{len(made)} times are"
            messages.success(request, f"{times} open to book, from {band_time(made[0].starts_at, band)}.")
            return redirect("submissions:slots")
    planned = form.planned() if form.is_bound else ()
    context = {
        "form": form,
        "band": band,
        "days": _by_day(planned, band),
        "planned": planned,
        "only_shown": only_shown,
    }
    failed = form.is_bound and bool(form.errors) and not only_shown
    return render(request, "submissions/checkins/new.html", context, status=422 if failed else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def slot_edit(request: HttpRequest, pk: int) -> HttpResponse:
    slot = slot_or_404(band=director_or_404(request).band, pk=pk)
    at = now()
    form = SlotForm(request.POST or None, slot=slot, at=at)
    if form.is_valid():
        data = form.cleaned_data
        try:
            timetable.change_slot(
                slot=slot,
                starts_at=data["starts"],
                ends_at=form.ends_at,
                capacity=data["capacity"],
                where=form.where,
                purpose=Slot.Purpose(data["purpose"]),
                sections=data["sections"],
                where_for_the_rest=data["where_for_the_rest"],
                at=at,
            )
        except Refused as refused:
            form.add_error(None, refused.sentence)
        else:
            messages.success(
                request, "Changed. Students who booked keep their place and see it as it is now."
            )
            return redirect("submissions:slot", pk=pk)
    context = {"form": form, "slot": slot, "band": slot.band, "at": at}
    return render(request, "submissions/checkins/edit.html", context, status=422 if form.is_bound else 200)


@require_POST
@signed_in
def slot_cancel(request: HttpRequest, pk: int) -> HttpResponse:
    slot = slot_or_404(band=director_or_404(request).band, pk=pk)
    try:
        timetable.cancel_slot(slot=slot, at=now())
    except Refused as refused:
        messages.error(request, refused.sentence)
    else:
        when = band_time(slot.starts_at, slot.band)
        messages.success(request, f"{when} is cancelled. Students who booked it see that.")
    return redirect("submissions:slot", pk=pk)


@require_POST
@signed_in
def slot_delete(request: HttpRequest, pk: int) -> HttpResponse:
    slot = slot_or_404(band=director_or_404(request).band, pk=pk)
    try:
        timetable.delete_slot(slot=slot)
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect("submissions:slot", pk=pk)
    messages.success(request, f"{band_time(slot.starts_at, slot.band)} is deleted; nobody had booked it.")
    return redirect("submissions:slots")


def _by_day(planned: Sequence[SlotTime], band: Band) -> list[tuple[date, list[datetime]]]:
    """Each day with its starts, as the page shows them before they are made."""
    days: dict[date, list[datetime]] = {}
    for time in planned:
        days.setdefault(band.local(time.starts_at).date(), []).append(time.starts_at)
    return list(days.items())
