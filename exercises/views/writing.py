"""Writing an exercise, changing one, and the notes drawn while they are typed."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.timezone import now
from django.views.decorators.http import require_http_methods, require_POST

from bandroom.people.access import director_or_404, signed_in
from bandroom.people.instruments import Instrument
from bandroom.people.models import Band
from exercises.forms.choices import ALL_KEYS, INSTRUMENT_CHOICES, key_label
from exercises.forms.writing import ExerciseForm, initial_of, labels_in
from exercises.models import Exercise
from exercises.music.errors import MusicError
from exercises.pages.preview import PreviewedLine, pointed, preview
from exercises.services import exercises as exercise_services

FIRST_LOOK = Instrument.CLARINET


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def write(request: HttpRequest) -> HttpResponse:
    band = director_or_404(request).band
    if request.method != "POST":
        return writing_page(request, band=band, form=ExerciseForm())
    form = ExerciseForm(request.POST, labels=labels_in(request.POST))
    if not form.is_valid() or request.POST.get("do") == "look":
        return writing_page(request, band=band, form=form)
    exercise = exercise_services.create_exercise(
        band=band, draft=form.draft(), by=director_or_404(request).user, at=now()
    )
    messages.success(request, f"“{exercise}” is saved. Look at every part before you post it.")
    return redirect("exercises:exercise", pk=exercise.pk)


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def edit(request: HttpRequest, pk: int) -> HttpResponse:
    membership = director_or_404(request)
    exercise = get_object_or_404(Exercise, pk=pk, band=membership.band)
    newest = exercise_services.newest_version(exercise)
    if newest.pk != exercise.pk and request.method != "POST":
        messages.info(request, "You are changing the newest version of this exercise.")
        return redirect("exercises:edit", pk=newest.pk)
    if request.method != "POST":
        return _page_of(request, exercise, band=membership.band)
    form = ExerciseForm(request.POST, labels=labels_in(request.POST))
    if not form.is_valid() or request.POST.get("do") == "look":
        return writing_page(request, band=membership.band, form=form, exercise=exercise)
    try:
        saved = exercise_services.change_exercise(
            exercise=exercise, draft=form.draft(), by=membership.user, at=now()
        )
    except exercise_services.AuthoringError as error:
        form.add_error(None, str(error))
        return writing_page(request, band=membership.band, form=form, exercise=exercise)
    if saved.pk == exercise.pk:
        messages.success(request, f"“{saved}” is saved.")
    else:
        messages.success(
            request,
            f"“{saved}” is saved as a new version. Sections that have the old one keep it; "
            "from now on you post the new one.",
        )
    return redirect("exercises:exercise", pk=saved.pk)


def _page_of(request: HttpRequest, exercise: Exercise, *, band: Band) -> HttpResponse:
    """The exercise as it stands, or moved to the concert key that `key` in the address asks for."""
    asked = {str(fifths): fifths for fifths in ALL_KEYS}.get(request.GET.get("key", ""))
    try:
        labels, initial = initial_of(exercise, fifths=asked)
    except MusicError as error:
        messages.error(request, error.message)
        return redirect("exercises:exercise", pk=exercise.pk)
    came = () if asked is None else (f"Moved to {key_label(asked)}. Nothing is saved yet.",)
    form = ExerciseForm(initial=initial, labels=labels)
    return writing_page(request, band=band, form=form, exercise=exercise, came=came)


@require_POST
@signed_in
def look(request: HttpRequest) -> HttpResponse:
    """The drawings alone, for the page that is being typed in."""
    band = director_or_404(request).band
    form = ExerciseForm(request.POST, labels=labels_in(request.POST))
    form.is_valid()
    player = player_in(request.POST)
    return render(request, "exercises/_looked.html", {"looked": looked(band=band, form=form, player=player)})


def writing_page(
    request: HttpRequest,
    *,
    band: Band,
    form: ExerciseForm,
    exercise: Exercise | None = None,
    file_problem: str = "",
    came: Sequence[str] = (),
) -> HttpResponse:
    """The page with the form as it stands; 422 when what was sent cannot be saved.

    file_problem  what was wrong with a file, in a sentence
    came          sentences about what a file or a pattern brought
    """
    player = player_in(request.POST)
    wrong = bool(file_problem) or (form.is_bound and bool(form.errors))
    drawn = form if form.is_bound else _filled(form)
    return render(
        request,
        "exercises/write.html",
        {
            "form": form,
            "exercise": exercise,
            "is_posted": exercise is not None and exercise.is_posted(),
            "file_problem": file_problem,
            "came": came,
            "player": player,
            "players": INSTRUMENT_CHOICES,
            "looked": {line.label: line for line in looked(band=band, form=drawn, player=player)},
        },
        status=422 if wrong and request.POST.get("do") != "look" else 200,
    )


def _filled(form: ExerciseForm) -> ExerciseForm:
    """The first values of a form read as if they had been sent, so that their notes can be drawn."""
    read = ExerciseForm(form.initial, labels=form.labels)
    read.is_valid()
    return read


def looked(*, band: Band, form: ExerciseForm, player: Instrument) -> tuple[PreviewedLine, ...]:
    faults = {
        label: pointed(error.message, form.texts.get(label, ""), error.position)
        for label, error in form.faults.items()
    }
    return preview(
        band=band,
        instrument=player,
        labels=form.labels,
        lines=form.lines,
        faults=faults,
        written_for=form.cleaned_data.get("written_for", ""),
    )


def player_in(data: Mapping[str, Any]) -> Instrument:
    """Whose part the page shows while it is written."""
    asked = str(data.get("player", ""))
    return Instrument(asked) if asked in Instrument.values else FIRST_LOOK
