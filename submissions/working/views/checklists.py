"""What each section gets ready, for directors to change."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.timezone import now
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from bandroom.people.access import director_or_404, signed_in
from bandroom.people.models import Section
from submissions.working.checklists import (
    back_to_usual,
    instruments_of,
    section_lists,
    usual_for_section,
    write_checklist,
)
from submissions.working.forms import ChecklistForm


@require_safe
@signed_in
def checklists(request: HttpRequest) -> HttpResponse:
    band = director_or_404(request).band
    context = {"lists": section_lists(band=band), "band": band}
    return render(request, "submissions/working/checklists.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def checklist(request: HttpRequest, section: int) -> HttpResponse:
    membership = director_or_404(request)
    found = get_object_or_404(Section.objects.select_related("checklist"), band=membership.band, pk=section)
    own = getattr(found, "checklist", None)
    items = tuple(own.items) if own else usual_for_section(instruments_of(found))
    form = ChecklistForm(request.POST or None, initial={"items": "\n".join(items)})
    if form.is_valid():
        write_checklist(section=found, items=form.cleaned_data["items"], by=membership.user, at=now())
        messages.success(request, f"{found}: the list is saved. Students see it at once.")
        return redirect("submissions:checklists")
    return render(
        request,
        "submissions/working/checklist.html",
        {"form": form, "section": found, "own": own},
        status=422 if form.is_bound else 200,
    )


@require_POST
@signed_in
def usual(request: HttpRequest, section: int) -> HttpResponse:
    """Back to the usual list of each instrument."""
    band = director_or_404(request).band
    found = get_object_or_404(Section, band=band, pk=section)
    if back_to_usual(section=found):
        messages.success(request, f"{found}: back to the usual list.")
    return redirect("submissions:checklists")
