"""The band's exercises; putting one away and taking it out again."""

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.timezone import now
from django.views.decorators.http import require_POST, require_safe

from bandroom.people.access import director_or_404, signed_in, staff_or_404
from exercises.forms.choices import key_label
from exercises.models import Exercise
from exercises.queries import listed
from exercises.services import exercises as exercise_services

A_PAGE = 30


@require_safe
@signed_in
def exercises(request: HttpRequest) -> HttpResponse:
    membership = staff_or_404(request)
    away = "away" in request.GET
    page = Paginator(listed(band=membership.band, away=away), A_PAGE).get_page(request.GET.get("page"))
    return render(
        request,
        "exercises/exercises.html",
        {
            "away": away,
            "page_obj": page,
            "entries": [(exercise, key_label(exercise.concert_fifths)) for exercise in page],
            "may_write": membership.is_director,
        },
    )


@require_POST
@signed_in
def put_away(request: HttpRequest, pk: int) -> HttpResponse:
    exercise = get_object_or_404(Exercise, pk=pk, band=director_or_404(request).band)
    if exercise_services.put_away(exercise=exercise, at=now()):
        messages.success(
            request,
            f"“{exercise}” is put away. Assignments that have it keep it; you can take it out again.",
        )
    return redirect("exercises:exercises")


@require_POST
@signed_in
def take_out(request: HttpRequest, pk: int) -> HttpResponse:
    exercise = get_object_or_404(Exercise, pk=pk, band=director_or_404(request).band)
    if exercise_services.take_out(exercise=exercise):
        messages.success(request, f"“{exercise}” is back among your exercises.")
    return redirect("exercises:exercise", pk=exercise.pk)
