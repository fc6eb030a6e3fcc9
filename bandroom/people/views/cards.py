"""Sign-in cards: choose whose, print them."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.timezone import now
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from bandroom.people.access import director_or_404, signed_in
from bandroom.people.errors import Refused
from bandroom.people.forms.cards import MOST_CARDS, CardsForm
from bandroom.people.models import Band
from bandroom.people.printing import CannotPrint
from bandroom.people.queries import MemberPlace, places_of
from bandroom.people.services.cards import draw_cards, keep_cards


def _page(
    request: HttpRequest,
    *,
    band: Band,
    form: CardsForm,
    places: tuple[MemberPlace, ...],
    ticked: set[int],
    status: int = 200,
) -> HttpResponse:
    context = {
        "band": band,
        "form": form,
        "places": [(place, place.membership.pk in ticked) for place in places],
        "ticked": len(ticked),
        "most": MOST_CARDS,
    }
    return render(request, "people/cards.html", context, status=status)


@require_safe
@signed_in
def cards(request: HttpRequest) -> HttpResponse:
    """Ticked are students without a card, or the one in ?student=."""
    band = director_or_404(request).band
    places = places_of(band)
    one = request.GET.get("student", "")
    if one:
        ticked = [p.membership.pk for p in places if str(p.membership.pk) == one]
    else:
        ticked = [p.membership.pk for p in places if p.membership.card_issued_at is None]
    form = CardsForm(band=band, places=places)
    return _page(request, band=band, form=form, places=places, ticked=set(ticked[:MOST_CARDS]))


@never_cache
@require_POST
@signed_in
def cards_print(request: HttpRequest) -> HttpResponse:
    """The PDF. Nobody's old card ends before the page with the new one is made."""
    band = director_or_404(request).band
    places = places_of(band)
    form = CardsForm(request.POST, band=band, places=places)
    if form.is_valid():
        chosen = set(form.cleaned_data["students"])
        drawn = draw_cards(place for place in places if place.membership.pk in chosen)
        try:
            # The PDF library is heavy: it is loaded by the first print, not by every web worker.
            from bandroom.people.cards.pdf import cards_pdf  # noqa: PLC0415

            address = request.build_absolute_uri(reverse("people:sign-in"))
            pdf = cards_pdf(drawn, address=address, paper=form.cleaned_data["paper"])
            keep_cards(band=band, cards=drawn, at=now())
        except CannotPrint as refused:
            form.add_error(None, refused.sentence)
        except Refused as refused:
            form.add_error("students", refused.sentence)
        else:
            name = f"sign-in-cards-{band.local(now()):%Y-%m-%d}.pdf"
            return HttpResponse(
                pdf,
                content_type="application/pdf",
                headers={"Content-Disposition": f'attachment; filename="{name}"'},
            )
    sent = request.POST.getlist("students")
    ticked = {place.membership.pk for place in places if str(place.membership.pk) in sent}
    return _page(request, band=band, form=form, places=places, ticked=ticked, status=422)
