"""Where a turn-in goes from the desk: back to the student, excused, opened live, opened again."""

from collections.abc import Callable
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from bandroom.people.access import signed_in
from submissions import turning_in
from submissions.errors import Refused
from submissions.grading import queries, services
from submissions.grading.errors import Incomplete
from submissions.grading.forms import ExcuseForm, LiveForm, SheetForm, first_error
from submissions.grading.views.desk import seat_page
from submissions.grading.views.opening import (
    Desk,
    invalid,
    is_scripted,
    open_desk,
    refusal,
    turn_in_or_404,
    user_of,
)
from submissions.models import TurnIn


@require_POST
@signed_in
def send_back(request: HttpRequest, pk: int, seat: int) -> HttpResponse:
    """Keep all that the page holds, then do what the pressed button names.

    "return" (refused once with criteria unmarked), "return-unmarked", "again", "keep", or "take:A:<id>" to
    hear another take. Marks and note are kept even when the return is refused.
    """
    turn_in = turn_in_or_404(request, pk, seat)
    form = SheetForm(request.POST, assignment=turn_in.assignment)
    if not form.is_valid():
        sentence = first_error(form)
        if is_scripted(request):
            return invalid(sentence)
        return seat_page(request, open_desk(request, pk), seat, problem=sentence, keep=True, status=422)
    try:
        services.keep_all(
            turn_in=turn_in,
            attempt=form.cleaned_data["attempt"],
            given=list(form.given()),
            note=form.note,
            by=user_of(request),
            at=timezone.now(),
        )
        said = moved(request, turn_in, form.cleaned_data["attempt"])
    except Refused as refused:
        if is_scripted(request):
            return refusal(refused)
        return seat_page(
            request,
            open_desk(request, pk),
            seat,
            problem=refused.sentence,
            unmarked=isinstance(refused, Incomplete),
            keep=not isinstance(refused, Incomplete),
            status=409,
        )
    if said:
        messages.success(request, said)
    goes_to = _goes_to(open_desk(request, pk), seat, request.POST.get("do", ""))
    return JsonResponse({"next": goes_to}) if is_scripted(request) else redirect(goes_to)


@require_POST
@signed_in
def excuse(request: HttpRequest, pk: int, seat: int) -> HttpResponse:
    opened = open_desk(request, pk)
    row = queries.row_or_404(opened.rows, seat=seat)
    form = ExcuseForm(request.POST)
    if not form.is_valid():
        return seat_page(request, opened, seat, problem=first_error(form), status=422)
    turning_in.excuse(
        seat=row.seat,
        posting=row.posting,
        reason=form.cleaned_data["reason"],
        by=user_of(request),
        at=timezone.now(),
    )
    messages.success(request, f"{row.student.first_name} is excused. It is never counted.")
    return redirect(open_desk(request, pk).after(seat))


@require_POST
@signed_in
def take_back_excuse(request: HttpRequest, pk: int, seat: int) -> HttpResponse:
    turn_in = turn_in_or_404(request, pk, seat)
    return _stay(
        request,
        pk,
        seat,
        lambda: turning_in.take_back_excuse(turn_in=turn_in, by=user_of(request), at=timezone.now()),
    )


@require_POST
@signed_in
def open_live(request: HttpRequest, pk: int, seat: int) -> HttpResponse:
    """Mark a student with nothing in: played live, or handed in on paper."""
    opened = open_desk(request, pk)
    row = queries.row_or_404(opened.rows, seat=seat)
    form = LiveForm(request.POST)
    if not form.is_valid():
        return seat_page(request, opened, seat, problem=first_error(form), status=422)
    turning_in.open_live(
        seat=row.seat,
        posting=row.posting,
        route=TurnIn.Route(form.cleaned_data["route"]),
        by=user_of(request),
        at=timezone.now(),
    )
    return redirect(opened.address_of(row))


@require_POST
@signed_in
def close_live(request: HttpRequest, pk: int, seat: int) -> HttpResponse:
    turn_in = turn_in_or_404(request, pk, seat)
    return _stay(
        request,
        pk,
        seat,
        lambda: services.close_live(turn_in=turn_in, by=user_of(request), at=timezone.now()),
    )


@require_POST
@signed_in
def reopen(request: HttpRequest, pk: int, seat: int) -> HttpResponse:
    turn_in = turn_in_or_404(request, pk, seat)
    return _stay(
        request, pk, seat, lambda: services.reopen(turn_in=turn_in, by=user_of(request), at=timezone.now())
    )


@require_POST
@signed_in
def lateness(request: HttpRequest, pk: int, seat: int) -> HttpResponse:
    """The director's own word: on time, late, or what the rule says ("rule")."""
    turn_in = turn_in_or_404(request, pk, seat)
    words = {"on_time": True, "late": False, "rule": None}
    counts = request.POST.get("counts", "")
    if counts not in words:
        return seat_page(
            request,
            open_desk(request, pk),
            seat,
            problem="Choose on time, late, or as the rule says.",
            status=422,
        )
    return _stay(
        request,
        pk,
        seat,
        lambda: services.decide_lateness(
            turn_in=turn_in, on_time=words[counts], by=user_of(request), at=timezone.now()
        ),
    )


def moved(request: HttpRequest, turn_in: TurnIn, attempt: int) -> str:
    """Make the move the pressed button names; a sentence that says it was made."""
    name, by, at = turn_in.seat.student.first_name, user_of(request), timezone.now()
    match request.POST.get("do"):
        case "again":
            services.ask_again(turn_in=turn_in, attempt=attempt, by=by, at=at)
            return f"{name} is asked to play again."
        case "keep":
            return "Kept. The student sees it when you return it."
        case str(other) if other.startswith("take:"):
            return ""
    meant = request.POST.get("do") == "return-unmarked"
    services.return_turn_in(turn_in=turn_in, attempt=attempt, by=by, at=at, unmarked_is_meant=meant)
    return f"Returned to {name}."


def _goes_to(opened: Desk, seat: int, pressed: str) -> str:
    """The next student; or this one again, with another take to hear ("take:A:<id>")."""
    if pressed != "keep" and not pressed.startswith("take:"):
        return opened.after(seat)
    address = opened.address_of(queries.row_or_404(opened.rows, seat=seat))
    _, _, wanted = pressed.partition(":")
    label, _, take = wanted.partition(":")
    return (
        f"{address}{'&' if '?' in address else '?'}{urlencode({f'take-{label}': take})}" if take else address
    )


def _stay(request: HttpRequest, pk: int, seat: int, move: Callable[[], TurnIn]) -> HttpResponse:
    """Make a move and show the same student as it stands then."""
    try:
        move()
    except Refused as refused:
        return seat_page(request, open_desk(request, pk), seat, problem=refused.sentence, status=409)
    opened: Desk = open_desk(request, pk)
    return redirect(opened.address_of(queries.row_or_404(opened.rows, seat=seat)))
