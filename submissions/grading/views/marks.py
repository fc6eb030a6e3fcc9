"""Marks, words and the ear's decisions, saved as they are given; each answer is a receipt."""

from contextlib import suppress

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from bandroom.people.access import signed_in
from submissions.errors import Refused
from submissions.grading import queries
from submissions.grading.forms import STALE, NoteForm, SheetForm, first_error
from submissions.grading.services import marks
from submissions.grading.services.marks import NOT_YET
from submissions.grading.views.opening import (
    invalid,
    is_scripted,
    open_desk,
    refusal,
    turn_in_or_404,
    user_of,
)
from submissions.models import TurnIn
from submissions.turn_ins.queries import row_or_404


@require_POST
@signed_in
def give_mark(request: HttpRequest, pk: int, seat: int) -> HttpResponse:
    """One mark. The receipt says what stands there now, in the form the page keeps."""
    turn_in = turn_in_or_404(request, pk, seat)
    steps = queries.steps_of(assignment=turn_in.assignment)
    criterion = next((c for c in steps if str(c.pk) == request.POST.get("criterion")), None)
    attempt, key = request.POST.get("attempt", ""), request.POST.get("level", "")
    if criterion is None or not (attempt.isascii() and attempt.isdecimal()):
        return invalid(STALE)
    level = next((level for level in steps[criterion] if str(level.pk) == key), None)
    if level is None and key != NOT_YET:
        return invalid(STALE)
    try:
        mark = marks.give_mark(
            turn_in=turn_in,
            attempt=int(attempt),
            line=request.POST.get("line", ""),
            criterion=criterion,
            level=level,
            by=user_of(request),
            at=timezone.now(),
            seen=request.POST.get("seen"),
        )
    except Refused as refused:
        return refusal(refused)
    return JsonResponse({"saved": marks.mark_key(mark)})


@require_POST
@signed_in
def keep_note(request: HttpRequest, pk: int, seat: int) -> HttpResponse:
    """The note as it is typed."""
    turn_in = turn_in_or_404(request, pk, seat)
    form = NoteForm(request.POST, assignment=turn_in.assignment)
    if not form.is_valid():
        return invalid(first_error(form))
    try:
        kept = marks.keep_note(
            turn_in=turn_in,
            attempt=form.cleaned_data["attempt"],
            note=form.note,
            seen=request.POST.get("seen"),
        )
    except Refused as refused:
        return refusal(refused)
    return JsonResponse({"saved": marks.note_key(kept)})


@require_POST
@signed_in
def overrule(request: HttpRequest, pk: int, seat: int) -> HttpResponse:
    """What the director's ear says of one note: "A:3:as_written", or "A:3:" to take it back.

    It belongs to the take that is shown, so an earlier take keeps its own.
    """
    opened = open_desk(request, pk)
    row = row_or_404(opened.rows, seat=seat)
    label, _, rest = request.POST.get("ear", "").partition(":")
    number, _, verdict = rest.partition(":")
    work = queries.work_of(row)
    attempt = row.turn_in.attempt if row.turn_in else 1
    counting = work.counting.get((attempt, label))
    wanted = request.POST.get(f"take-{label}", "") or str(counting.pk if counting else "")
    heard = next(
        (h for (take, line), h in work.hearings.items() if (str(take), line) == (wanted, label)), None
    )
    if heard is None or not (number.isascii() and number.isdecimal() and len(number) < 4):
        return invalid("Nothing was heard there yet; open the page again.")
    try:
        marks.overrule(hearing=heard.hearing, line=label, note=int(number), verdict=verdict or None)
    except Refused as refused:
        return refusal(refused)
    if is_scripted(request):
        return JsonResponse({"saved": verdict})
    if row.turn_in is not None:
        _keep_sheet(request, row.turn_in)
    return redirect(opened.address_of(row))


def _keep_sheet(request: HttpRequest, turn_in: TurnIn) -> None:
    """Without script the button posts the whole sheet: what can be kept of it is kept."""
    form = SheetForm(request.POST, assignment=turn_in.assignment)
    if not form.is_valid():
        return
    with suppress(Refused):  # returned meanwhile: the page that follows shows what stands
        marks.keep_all(
            turn_in=turn_in,
            attempt=form.cleaned_data["attempt"],
            given=list(form.given()),
            note=form.note,
            by=user_of(request),
            at=timezone.now(),
        )
