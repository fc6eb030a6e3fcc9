"""Sections: add, change, put in order, take away."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from bandroom.people.access import director_or_404, signed_in
from bandroom.people.errors import Refused
from bandroom.people.forms.bands import SectionForm
from bandroom.people.models import Section
from bandroom.people.services import sections as services

WAYS = {"up": services.UP, "down": services.DOWN}


def _section_or_404(request: HttpRequest, pk: int) -> Section:
    return get_object_or_404(Section, pk=pk, band=director_or_404(request).band)


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def section_new(request: HttpRequest) -> HttpResponse:
    band = director_or_404(request).band
    form = SectionForm(request.POST or None)
    if form.is_valid():
        try:
            section = services.add_section(band=band, **form.cleaned_data)
        except Refused as refused:
            form.add_error("name", refused.sentence)
        else:
            messages.success(request, f"{section} is there. Now give it students.")
            return redirect("people:band")
    context = {"form": form, "section": None}
    return render(request, "people/section.html", context, status=422 if form.is_bound else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def section(request: HttpRequest, pk: int) -> HttpResponse:
    section = _section_or_404(request, pk)
    form = SectionForm(request.POST or None, initial={"name": section.name, "period": section.period})
    if form.is_valid():
        try:
            services.change_section(section=section, **form.cleaned_data)
        except Refused as refused:
            form.add_error("name", refused.sentence)
        else:
            messages.success(request, "Saved.")
            return redirect("people:band")
    context = {"form": form, "section": section}
    return render(request, "people/section.html", context, status=422 if form.is_bound else 200)


@require_POST
@signed_in
def section_move(request: HttpRequest, pk: int) -> HttpResponse:
    section = _section_or_404(request, pk)
    way = WAYS.get(request.POST.get("way", ""))
    if way is None:
        raise Http404
    services.move_section(section=section, by=way)
    return redirect("people:section", section.pk)


@require_POST
@signed_in
def section_remove(request: HttpRequest, pk: int) -> HttpResponse:
    section = _section_or_404(request, pk)
    try:
        services.remove_section(section=section)
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect("people:section", section.pk)
    messages.success(request, f"{section} is gone.")
    return redirect("people:band")
