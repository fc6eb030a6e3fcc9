"""One student's sheet as it is sent: all of it kept, then the move that the pressed button names.

Buttons: "return" (refused once with criteria unmarked), "return-unmarked", "again", "keep", or "take:A:<id>"
to hear another take. Marks and note are kept even when the return is refused.
"""

from collections.abc import Callable
from typing import Protocol
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.utils import timezone

from submissions.errors import Incomplete, Refused
from submissions.grading.forms import SheetForm, first_error
from submissions.grading.services import marks
from submissions.grading.views.opening import invalid, is_scripted, refusal, user_of
from submissions.models import TurnIn
from submissions.turn_ins import services as turn_ins


class Page(Protocol):
    """Shows the page again; `keep` with what was posted, `unmarked` with the way to return all the same."""

    def __call__(
        self, *, problem: str, unmarked: bool = False, keep: bool = False, status: int
    ) -> HttpResponse: ...


def sent(
    request: HttpRequest, *, turn_in: TurnIn, page: Page, here: Callable[[], str], onward: Callable[[], str]
) -> HttpResponse:
    """Keep and move.

    page    shows this student again where the sheet is refused
    here    the address of this student, for a button that stays
    onward  the address of the next one, asked for after the move
    """
    form = SheetForm(request.POST, assignment=turn_in.assignment)
    if not form.is_valid():
        sentence = first_error(form)
        return invalid(sentence) if is_scripted(request) else page(problem=sentence, keep=True, status=422)
    attempt = form.cleaned_data["attempt"]
    try:
        marks.keep_all(
            turn_in=turn_in,
            attempt=attempt,
            given=list(form.given()),
            note=form.note,
            by=user_of(request),
            at=timezone.now(),
        )
        said = _moved(request, turn_in, attempt)
    except Refused as refused:
        return refused_on(request, page=page, refused=refused)
    if said:
        messages.success(request, said)
    pressed = request.POST.get("do", "")
    stays = pressed == "keep" or pressed.startswith("take:")
    goes_to = _with_take(here(), pressed) if stays else onward()
    return JsonResponse({"next": goes_to}) if is_scripted(request) else redirect(goes_to)


def refused_on(request: HttpRequest, *, page: Page, refused: Refused) -> HttpResponse:
    """What a refused move answers: to the page's own module in a form it reads, else the page itself."""
    if is_scripted(request):
        return refusal(refused)
    incomplete = isinstance(refused, Incomplete)
    # Where only marks are missing all the rest is saved, so the page shows what stands.
    keep = "attempt" in request.POST and not incomplete
    return page(problem=refused.sentence, unmarked=incomplete, keep=keep, status=409)


def _moved(request: HttpRequest, turn_in: TurnIn, attempt: int) -> str:
    """Make the move the pressed button names; a sentence that says it was made."""
    name, by, at = turn_in.seat.student.first_name, user_of(request), timezone.now()
    match request.POST.get("do"):
        case "again":
            turn_ins.ask_again(turn_in=turn_in, attempt=attempt, by=by, at=at)
            return f"{name} is asked to play again."
        case "keep":
            return "Kept. The student sees it when you return it."
        case str(other) if other.startswith("take:"):
            return ""
    meant = request.POST.get("do") == "return-unmarked"
    turn_ins.return_turn_in(turn_in=turn_in, attempt=attempt, by=by, at=at, unmarked_is_meant=meant)
    return f"Returned to {name}."


def _with_take(address: str, pressed: str) -> str:
    """The address, with the take that "take:A:<id>" wants to hear."""
    _, _, wanted = pressed.partition(":")
    label, _, take = wanted.partition(":")
    if not take:
        return address
    return f"{address}{'&' if '?' in address else '?'}{urlencode({f'take-{label}': take})}"
