"""The band's rubrics: written, changed, copied, put away."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.timezone import now
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from bandroom.people.access import director_or_404, signed_in, staff_or_404
from submissions.assigning import queries
from submissions.assigning import rubrics as services
from submissions.assigning.forms.rubric import RubricForm
from submissions.assigning.standard_rubric import CRITERIA
from submissions.errors import Refused
from submissions.models import Rubric


@require_safe
@signed_in
def rubrics(request: HttpRequest) -> HttpResponse:
    """Those in use, and those put away. A band that has none gets the standard one."""
    band = staff_or_404(request).band
    services.default_rubric(band=band, at=now())
    found = list(queries.rubrics_of(band=band))
    return render(
        request,
        "submissions/assigning/rubrics.html",
        {
            "in_use": [rubric for rubric in found if rubric.put_away_at is None],
            "put_away": [rubric for rubric in found if rubric.put_away_at is not None],
        },
    )


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def rubric_new(request: HttpRequest) -> HttpResponse:
    band = director_or_404(request).band
    form = RubricForm(request.POST or None, criteria=CRITERIA)
    if form.is_valid():
        data = form.cleaned_data
        rubric = services.write_rubric(band=band, name=data["name"], criteria=data["criteria"], at=now())
        messages.success(request, f"“{rubric}” is ready for the next assignment.")
        return redirect("submissions:rubrics")
    context = {"form": form, "rubric": None}
    return render(request, "submissions/assigning/rubric.html", context, status=422 if form.is_bound else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def rubric_edit(request: HttpRequest, pk: int) -> HttpResponse:
    rubric = get_object_or_404(queries.rubrics_of(band=director_or_404(request).band), pk=pk)
    form = RubricForm(request.POST or None, initial={"name": rubric.name}, criteria=services.words_of(rubric))
    if form.is_valid():
        data = form.cleaned_data
        kept = services.edit_rubric(rubric=rubric, name=data["name"], criteria=data["criteria"], at=now())
        if kept.pk == rubric.pk:
            messages.success(request, f"“{kept}” is changed.")
        else:
            messages.success(
                request,
                f"“{kept}” is changed from the next assignment on; what was posted keeps its own words.",
            )
        return redirect("submissions:rubrics")
    context = {"form": form, "rubric": rubric}
    return render(request, "submissions/assigning/rubric.html", context, status=422 if form.is_bound else 200)


@require_POST
@signed_in
def rubric_copy(request: HttpRequest, pk: int) -> HttpResponse:
    rubric = _rubric_or_404(request, pk)
    copied = services.copy_rubric(rubric=rubric, at=now())
    messages.success(request, f"“{copied}” is a copy to change as you like.")
    return redirect("submissions:rubric-edit", pk=copied.pk)


@require_POST
@signed_in
def rubric_put_away(request: HttpRequest, pk: int) -> HttpResponse:
    rubric = _rubric_or_404(request, pk)
    try:
        services.put_away(rubric=rubric, at=now())
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"“{rubric}” is put away; assignments that use it keep it.")
    return redirect("submissions:rubrics")


@require_POST
@signed_in
def rubric_take_out(request: HttpRequest, pk: int) -> HttpResponse:
    rubric = _rubric_or_404(request, pk)
    try:
        services.take_out(rubric=rubric)
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"“{rubric}” can be used again.")
    return redirect("submissions:rubrics")


def _rubric_or_404(request: HttpRequest, pk: int) -> Rubric:
    return get_object_or_404(Rubric, pk=pk, band=director_or_404(request).band)
