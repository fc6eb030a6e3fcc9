"""Where a turn-in goes from the desk: back to the student, excused, opened live, opened again."""

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from bandroom.people.access import signed_in
from submissions.errors import Refused
from submissions.grading.forms import ExcuseForm, LiveForm, first_error
from submissions.grading.views.desk import seat_page
from submissions.grading.views.opening import (
    Desk,
    open_desk,
    turn_in_or_404,
    user_of,
)
from submissions.grading.views.sheet import sent
from submissions.models import TurnIn
from submissions.turn_ins import services as turn_ins
from submissions.turn_ins.queries import row_or_404


@require_POST
@signed_in
def send_back(request: HttpRequest, pk: int, seat: int) -> HttpResponse:
    """Keep all that the page holds, then do what the pressed button names."""
    return sent(
        request,
        turn_in=turn_in_or_404(request, pk, seat),
        page=lambda **shown: seat_page(request, open_desk(request, pk), seat, **shown),
        here=lambda: _address_of(open_desk(request, pk), seat),
        onward=lambda: open_desk(request, pk).after(seat),
    )


@require_POST
@signed_in
def excuse(request: HttpRequest, pk: int, seat: int) -> HttpResponse:
    opened = open_desk(request, pk)
    row = row_or_404(opened.rows, seat=seat)
    form = ExcuseForm(request.POST)
    if not form.is_valid():
        return seat_page(request, opened, seat, problem=first_error(form), status=422)
    turn_ins.excuse(
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
        lambda: turn_ins.take_back_excuse(turn_in=turn_in, by=user_of(request), at=timezone.now()),
    )


@require_POST
@signed_in
def open_live(request: HttpRequest, pk: int, seat: int) -> HttpResponse:
    """Mark a student with nothing in: played live, or handed in on paper."""
    opened = open_desk(request, pk)
    row = row_or_404(opened.rows, seat=seat)
    form = LiveForm(request.POST)
    if not form.is_valid():
        return seat_page(request, opened, seat, problem=first_error(form), status=422)
    turn_ins.open_live(
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
        lambda: turn_ins.close_live(turn_in=turn_in, by=user_of(request), at=timezone.now()),
    )


@require_POST
@signed_in
def reopen(request: HttpRequest, pk: int, seat: int) -> HttpResponse:
    turn_in = turn_in_or_404(request, pk, seat)
    return _stay(
        request, pk, seat, lambda: turn_ins.reopen(turn_in=turn_in, by=user_of(request), at=timezone.now())
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
        lambda: turn_ins.decide_lateness(
            turn_in=turn_in, on_time=words[counts], by=user_of(request), at=timezone.now()
        ),
    )


def _address_of(opened: Desk, seat: int) -> str:
    return opened.address_of(row_or_404(opened.rows, seat=seat))


def _stay(request: HttpRequest, pk: int, seat: int, move: Callable[[], TurnIn]) -> HttpResponse:
    """Make a move and show the same student as it stands then."""
    try:
        move()
    except Refused as refused:
        return seat_page(request, open_desk(request, pk), seat, problem=refused.sentence, status=409)
    return redirect(_address_of(open_desk(request, pk), seat))
