"""Posting an exercise, and everything a director does with what was posted."""

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.timezone import now
from django.views.decorators.http import require_http_methods, require_POST

from bandroom.people.access import director_or_404, signed_in
from bandroom.people.instruments import Instrument
from bandroom.people.models import Band
from bandroom.people.templatetags.look import band_time
from exercises.models import Exercise
from submissions.assigning import queries, services
from submissions.assigning.forms.posting import PostForm
from submissions.assigning.rubrics import default_rubric
from submissions.errors import Refused
from submissions.models import Assignment, Routes

EXERCISES_A_PAGE = 24


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def post(request: HttpRequest) -> HttpResponse:
    """Choose an exercise, then (with ?exercise=) say to whom, when and what."""
    membership = director_or_404(request)
    band = membership.band
    asked = request.GET.get("exercise", "")
    if not asked:
        return _choose_exercise(request, band)
    exercise = _exercise_or_404(asked, band)
    if exercise.replaced_by_id and request.method != "POST":
        messages.info(request, "This exercise was written anew; here is the newest version.")
        return redirect(f"{reverse('submissions:post')}?exercise={exercise.replaced_by_id}")
    at = now()
    form = PostForm(
        request.POST or None,
        band=band,
        exercise=exercise,
        sections=queries.sections_with_seats(band=band, at=at),
        rubric=default_rubric(band=band, at=at),
        at=at,
    )
    if form.is_valid():
        try:
            assignment = services.post(
                band=band, exercise=exercise, by=membership.user, at=at, **_decided(form)
            )
        except Refused as refusal:
            form.add_error(None, refusal.sentence)
        else:
            messages.success(request, _posted_words(assignment, band))
            _say_twice(request, form)
            return redirect("submissions:week")
    return _form_page(request, form, status=422 if form.is_bound else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def edit(request: HttpRequest, pk: int) -> HttpResponse:
    band = director_or_404(request).band
    assignment = _assignment_or_404(pk, band)
    at = now()
    form = PostForm(
        request.POST or None,
        band=band,
        exercise=assignment.exercise,
        sections=queries.sections_with_seats(band=band, at=at),
        rubric=assignment.rubric,
        at=at,
        assignment=assignment,
    )
    if form.is_valid():
        try:
            services.edit(assignment=assignment, **_decided(form))
        except Refused as refusal:
            form.add_error(None, refusal.sentence)
        else:
            messages.success(request, f"{assignment} is changed; students see it as it is now.")
            _say_twice(request, form)
            return redirect("submissions:assignments")
    return _form_page(request, form, status=422 if form.is_bound else 200)


@require_POST
@signed_in
def copy(request: HttpRequest, pk: int) -> HttpResponse:
    membership = director_or_404(request)
    assignment = _assignment_or_404(pk, membership.band)
    try:
        copied = services.copy_to_next_week(assignment=assignment, by=membership.user, at=now())
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return redirect("submissions:assignments")
    messages.success(
        request, f"{_posted_words(copied, membership.band)} Change below what should be different."
    )
    return redirect("submissions:edit", pk=copied.pk)


@require_POST
@signed_in
def withdraw(request: HttpRequest, pk: int) -> HttpResponse:
    assignment = _assignment_or_404(pk, director_or_404(request).band)
    try:
        services.withdraw(assignment=assignment, at=now())
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(
            request, f"{assignment} is withdrawn: students no longer see it, all work and marks are kept."
        )
    return redirect("submissions:assignments")


@require_POST
@signed_in
def bring_back(request: HttpRequest, pk: int) -> HttpResponse:
    assignment = _assignment_or_404(pk, director_or_404(request).band)
    try:
        services.bring_back(assignment=assignment)
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"{assignment} is back: students see it again.")
    return redirect("submissions:assignments")


def _choose_exercise(request: HttpRequest, band: Band) -> HttpResponse:
    words = request.GET.get("words", "").strip()[:80]
    found = Paginator(queries.exercises_to_post(band=band, words=words), EXERCISES_A_PAGE)
    return render(
        request,
        "submissions/assigning/choose_exercise.html",
        {"band": band, "words": words, "page_obj": found.get_page(request.GET.get("page"))},
    )


def _form_page(request: HttpRequest, form: PostForm, *, status: int) -> HttpResponse:
    played = queries.instruments_played(band=form.band, at=form.at)
    return render(
        request,
        "submissions/assigning/post.html",
        {
            "form": form,
            "band": form.band,
            "exercise": form.exercise,
            "assignment": form.assignment,
            "played": [instrument for instrument in Instrument if instrument in played],
            "not_played": [instrument for instrument in Instrument if instrument not in played],
        },
        status=status,
    )


def _exercise_or_404(asked: str, band: Band) -> Exercise:
    if not asked.isdecimal() or len(asked) > 18:
        raise Http404
    return get_object_or_404(Exercise.objects.prefetch_related("lines"), pk=int(asked), band=band)


def _assignment_or_404(pk: int, band: Band) -> Assignment:
    assignments = Assignment.objects.select_related("band", "exercise", "rubric").prefetch_related(
        "exercise__lines", "postings__section"
    )
    return get_object_or_404(assignments, pk=pk, band=band)


def _decided(form: PostForm) -> dict[str, Any]:
    data = form.cleaned_data
    return {
        "windows": data["windows"],
        "rubric": data["rubric"],
        "lines": data["lines"],
        "routes": Routes(data["routes"]),
        "note": data["note"],
        "tempos": data["tempos"],
        "tempo_ranges": data["tempo_ranges"],
        "first_steps": data["first_steps"],
    }


def _say_twice(request: HttpRequest, form: PostForm) -> None:
    for words in form.twice_words():
        messages.warning(request, words)


def _posted_words(assignment: Assignment, band: Band) -> str:
    postings = list(assignment.postings.order_by("due_at"))
    due = band_time(postings[0].due_at, band)
    last = band_time(postings[-1].due_at, band)
    when = f"due {due}" if due == last else f"due from {due} to {last}"
    return f"{assignment} is posted, {when}."
