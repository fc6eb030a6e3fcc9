"""Directors and substitutes of the band."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.timezone import now
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from bandroom.people.access import director_or_404, signed_in
from bandroom.people.errors import Refused
from bandroom.people.forms.staff import InviteForm
from bandroom.people.models import Membership
from bandroom.people.password_links import password_link
from bandroom.people.queries import staff_of
from bandroom.people.services.staff import end_staff, invite_staff, may_give_link


def _colleague_or_404(request: HttpRequest, pk: int) -> Membership:
    return get_object_or_404(staff_of(director_or_404(request).band), pk=pk)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def staff(request: HttpRequest) -> HttpResponse:
    """Who else is there; invite one more."""
    band = director_or_404(request).band
    form = InviteForm(request.POST or None)
    if form.is_valid():
        said = form.cleaned_data
        try:
            invited = invite_staff(band=band, **said)
        except Refused as refused:
            form.add_error("email", refused.sentence)
        else:
            if invited.needs_link:
                return _link_page(request, invited.membership)
            messages.success(
                request,
                f"{invited.membership.user} is on the staff and signs in with the password that is there.",
            )
            return redirect("people:staff")
    context = {"band": band, "staff": staff_of(band), "form": form}
    return render(request, "people/staff.html", context, status=422 if form.is_bound else 200)


@never_cache
@require_POST
@signed_in
def staff_link(request: HttpRequest, pk: int) -> HttpResponse:
    """A one-time link for a colleague who forgot the password or lost the first link."""
    membership = _colleague_or_404(request, pk)
    if not may_give_link(membership=membership):
        messages.error(
            request,
            f"{membership.user} belongs to another band as well: whoever runs this server can make the link.",
        )
        return redirect("people:staff")
    return _link_page(request, membership)


def _link_page(request: HttpRequest, membership: Membership) -> HttpResponse:
    link = request.build_absolute_uri(password_link(membership.user))
    return render(request, "people/staff_link.html", {"person": membership, "link": link})


@require_POST
@signed_in
def staff_end(request: HttpRequest, pk: int) -> HttpResponse:
    membership = _colleague_or_404(request, pk)
    try:
        end_staff(membership=membership, at=now())
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect("people:staff")
    messages.success(request, f"{membership.user} no longer sees the band.")
    own = membership.pk == request.membership.pk  # type: ignore[attr-defined]
    return redirect("people:sign-in" if own else "people:staff")
