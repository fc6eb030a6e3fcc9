"""The band as a whole: who is in it, its settings, and the choice between several."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.views.decorators.http import require_http_methods, require_safe

from bandroom.people.access import director_or_404, membership_or_404, signed_in, staff_or_404
from bandroom.people.forms.bands import BandForm
from bandroom.people.middleware import CHOSEN_BAND
from bandroom.people.queries import band_now
from bandroom.people.services.bands import change_band


@require_safe
@signed_in
def band(request: HttpRequest) -> HttpResponse:
    """Sections with their seats, students without one, the staff."""
    membership = staff_or_404(request)
    context = {"band": membership.band, "now": band_now(membership.band), "at": now()}
    return render(request, "people/band.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def settings(request: HttpRequest) -> HttpResponse:
    band = director_or_404(request).band
    form = BandForm(request.POST or None, initial=BandForm.initial_of(band))
    if form.is_valid():
        change_band(band=band, **form.cleaned_data)
        messages.success(request, "Saved.")
        return redirect("people:band")
    context = {"band": band, "form": form}
    return render(request, "people/settings.html", context, status=422 if form.is_bound else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def choose_band(request: HttpRequest) -> HttpResponse:
    """For a person in several bands; the choice holds for this session."""
    membership_or_404(request)
    memberships = request.memberships  # type: ignore[attr-defined]
    if request.method == "POST":
        chosen = next((m for m in memberships if str(m.band_id) == request.POST.get("band", "")), None)
        if chosen is None:
            raise Http404
        request.session[CHOSEN_BAND] = chosen.band_id
        return redirect("home")
    return render(request, "people/choose_band.html", {"memberships": memberships})
