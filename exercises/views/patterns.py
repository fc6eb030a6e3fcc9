"""An exercise built from a pattern, drawn while it is chosen, then handed to the writing page."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods, require_POST

from bandroom.people.access import director_or_404, signed_in
from bandroom.people.models import Band
from exercises.forms.choices import INSTRUMENT_CHOICES
from exercises.forms.patterns import PatternForm
from exercises.forms.writing import ExerciseForm, initial_of_lines
from exercises.models import Exercise
from exercises.pages.preview import PreviewedLine, preview
from exercises.views.writing import player_in, writing_page


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def pattern(request: HttpRequest) -> HttpResponse:
    band = director_or_404(request).band
    if request.method != "POST":
        first = {name: field.initial for name, field in PatternForm.base_fields.items()}
        return _page(request, band=band, form=PatternForm(), drawn=PatternForm(first))
    form = PatternForm(request.POST)
    if not form.is_valid() or request.POST.get("do") == "look":
        return _page(request, band=band, form=form, drawn=form)
    labels, initial = initial_of_lines(
        form.lines.values(), title=form.title(), source=Exercise.Source.PATTERN, tempo=None
    )
    return writing_page(
        request,
        band=band,
        form=ExerciseForm(initial=initial, labels=labels),
        came=("Both lines are below, in concert pitch. Change what you like, then save.",),
    )


@require_POST
@signed_in
def look_at_pattern(request: HttpRequest) -> HttpResponse:
    """The drawings alone, for the page on which it is chosen."""
    band = director_or_404(request).band
    form = PatternForm(request.POST)
    return render(request, "exercises/_looked.html", {"looked": _looked(request, band=band, form=form)})


def _page(request: HttpRequest, *, band: Band, form: PatternForm, drawn: PatternForm) -> HttpResponse:
    looked = _looked(request, band=band, form=drawn)
    return render(
        request,
        "exercises/pattern.html",
        {
            "form": form,
            "player": player_in(request.POST),
            "players": INSTRUMENT_CHOICES,
            "looked": {line.label: line for line in looked},
        },
        status=422 if form.is_bound and form.errors else 200,
    )


def _looked(request: HttpRequest, *, band: Band, form: PatternForm) -> tuple[PreviewedLine, ...]:
    form.is_valid()
    return preview(band=band, instrument=player_in(request.POST), labels="AB", lines=form.lines, faults={})
