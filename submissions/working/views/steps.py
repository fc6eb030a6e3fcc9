"""The steps before a take: each its own small page under one strip, and what is noted from it."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from bandroom.people.access import signed_in, student_or_404
from bandroom.people.instruments import Instrument
from bandroom.people.models import Membership
from exercises.models import ExerciseLine
from exercises.music.counting import FASTEST_TEMPO, SLOWEST_TEMPO
from exercises.music.errors import MusicError
from exercises.music.instruments import instrument as instrument_of
from exercises.pages.fingerings import has_table
from exercises.parts import part_of, part_policy
from submissions.errors import Refused
from submissions.models import Step, StepDone
from submissions.turn_ins.own_work import OwnPosting, own_posting
from submissions.working.checklists import items_for, said_items
from submissions.working.offline import kept_offline
from submissions.working.queries import asked_lines, work_items
from submissions.working.services import steps
from submissions.working.steps.frame import frame
from submissions.working.steps.lines import fingered, keyboard, playing_line, signs_line
from submissions.working.steps.strip import after, done_of, name_of, steps_of
from submissions.working.stuck import bars_to_be_stuck_at
from submissions.working.words import beat_words, signs_words


@require_safe
@signed_in
@kept_offline
def step(request: HttpRequest, pk: int, step: str) -> HttpResponse:
    """One step of one line; `?line=B` for another line than the first."""
    membership = student_or_404(request)
    own = own_or_404(membership=membership, pk=pk)
    asked = _step_or_404(step, own)
    context = _frame(membership=membership, own=own, step=asked)
    if asked is Step.READY:
        row = context["done"].get(Step.READY)
        ticked = row.detail.get("ticked", ()) if row else ()
        context["items"] = [
            (item, item in ticked, said)
            for item, said in said_items(items_for(own.seat), own.seat.instrument)
        ]
        return render(request, "submissions/working/steps/ready.html", context)
    line = _line_or_404(own, request.GET.get("line", own.posting.assignment.lines[0]))
    try:
        context |= _line_context(line=line, own=own, step=asked, row=context["done"].get(asked))
    except MusicError:
        context["problem"] = True
    context["label"] = line.label
    return render(request, f"submissions/working/steps/{asked.value}.html", context)


@require_POST
@signed_in
def step_do(request: HttpRequest, pk: int, step: str) -> HttpResponse:
    """Note what was done. A script gets the counts, a form goes back to the page."""
    membership = student_or_404(request)
    own = own_or_404(membership=membership, pk=pk)
    asked, at = _step_or_404(step, own), now()
    if asked is Step.READY:
        steps.tick(own=own, ticked=request.POST.getlist("item"), items=items_for(own.seat), at=at)
        return redirect("submissions:step", pk=pk, step=asked.value)
    line = _line_or_404(own, request.POST.get("line", ""))
    answer: dict[str, Any] = {}
    if "over" in request.POST:
        steps.start_over(own=own, step=asked, label=line.label, at=at)
    elif asked is Step.SIGNS:
        answer = _taps(request, own=own, line=line)
    else:
        tempo = _tempo(request.POST.get("tempo", ""))
        steps.go_through(own=own, step=asked, label=line.label, tempo=tempo, at=at)
    if request.headers.get("X-Requested-With") == "bandroom":
        return JsonResponse(answer | {"finished": _finished(own, asked)})
    address = reverse("submissions:step", args=[pk, asked.value])
    return redirect(f"{address}?line={line.label}#answers")


@require_POST
@signed_in
def stuck(request: HttpRequest, pk: int) -> HttpResponse:
    """ "I'm stuck at this bar": one tap on the bar."""
    membership = student_or_404(request)
    own = own_or_404(membership=membership, pk=pk)
    label, _dash, bar = request.POST.get("bar", "").partition("-")
    if not own.posting.is_open(now()):
        messages.error(request, _("This work is closed. Ask your director in class."))
        return _back(request, pk)
    if not bar.isdecimal() or (label, int(bar)) not in bars_to_be_stuck_at(own):
        raise Http404
    try:
        steps.say_stuck(own=own, label=label, bar=int(bar), at=now())
    except Refused as refused:
        messages.error(request, refused.sentence)
    return _back(request, pk)


@require_POST
@signed_in
def unstick(request: HttpRequest, pk: int, stuck: int) -> HttpResponse:
    """ "I'm fine now"."""
    membership = student_or_404(request)
    own = own_or_404(membership=membership, pk=pk)
    steps.unstick(own=own, pk=stuck)
    return _back(request, pk)


def own_or_404(*, membership: Membership, pk: int) -> OwnPosting:
    own = own_posting(student=membership.user, band=membership.band, assignment_pk=pk, at=now())
    if own is None:
        raise Http404
    return own


def _frame(*, membership: Membership, own: OwnPosting, step: Step) -> dict[str, Any]:
    at = now()
    (item,) = work_items(own=[own], band=membership.band, at=at)
    context = frame(membership=membership, own=own, item=item, now_at=step.value, at=at)
    row = context["done"].get(step)
    return context | {
        "step": step,
        "row": row,
        "name": name_of(step, Instrument(own.seat.instrument)),
        "next": after(context["cells"]),
        "address": reverse("submissions:step-do", args=[own.posting.assignment_id, step.value]),
    }


def _line_context(*, line: ExerciseLine, own: OwnPosting, step: Step, row: StepDone | None) -> dict[str, Any]:
    assignment, player = own.posting.assignment, Instrument(own.seat.instrument)
    kept = row.detail.get(line.label, {}) if row else {}
    context: dict[str, Any] = {"kept": kept, "pitched": instrument_of(player).pitched}
    if step is Step.SIGNS:
        found = signs_line(
            line=line,
            assignment=assignment,
            instrument=player,
            tapped=kept.get("tapped", ()),
            shown=kept.get("shown", ()),
        )
        data = found.line.data | {
            "tapped": kept.get("tapped", []),
            "shown": kept.get("shown", []),
            "words": signs_words(),
        }
        return context | {"signs": found, "line": found.line, "page_data": data}
    rows = step is Step.NAMES
    drawn = playing_line(line=line, assignment=assignment, instrument=player, names=rows, counted=rows)
    if rows and context["pitched"]:
        context["keyboard"] = keyboard(line=line, instrument=player)
    if step is Step.FINGERS:
        table = has_table(player)
        context["fingered"] = fingered(line=line, instrument=player)
        context["keyboard"] = "" if table else keyboard(line=line, instrument=player)
    return context | {
        "line": drawn,
        "page_data": drawn.data | {"words": beat_words()},
        "slowest": SLOWEST_TEMPO,
        "fastest": FASTEST_TEMPO,
        "tempo": drawn.tempo if step is Step.PLAY else min(drawn.tempo, drawn.tempos[0]),
    }


def _taps(request: HttpRequest, *, own: OwnPosting, line: ExerciseLine) -> dict[str, Any]:
    part = part_of(line=line, instrument=own.seat.instrument)
    taps = steps.tap(
        own=own,
        part=part,
        tapped=_indexes(request.POST.getlist("note")),
        shown=_indexes(request.POST.getlist("shown")),
        courtesy=part_policy(line.exercise.band).courtesy_signs,
        at=now(),
    )
    return {"right": len(taps.right), "missed": len(taps.missed), "extra": len(taps.extra)}


def _indexes(sent: list[str]) -> list[int]:
    return [int(each) for each in sent if each.isascii() and each.isdecimal() and len(each) < 4]


def _tempo(sent: str) -> int | None:
    if not (sent.isascii() and sent.isdecimal() and len(sent) < 4):
        return None
    return min(max(int(sent), SLOWEST_TEMPO), FASTEST_TEMPO)


def _step_or_404(step: str, own: OwnPosting) -> Step:
    found = next((each for each in steps_of(Instrument(own.seat.instrument)) if each.value == step), None)
    if found is None:
        raise Http404
    return found


def _line_or_404(own: OwnPosting, label: str) -> ExerciseLine:
    found = next((line for line in asked_lines(own.posting.assignment) if line.label == label), None)
    if found is None:
        raise Http404
    return found


def _finished(own: OwnPosting, step: Step) -> bool:
    row = done_of(own).get(step)
    return row is not None and row.finished


def _back(request: HttpRequest, pk: int) -> HttpResponse:
    """To the step it was said on, else to the whole assignment; never to an address from outside."""
    step = request.POST.get("step", "")
    if step in {each.value for each in Step}:
        address = reverse("submissions:step", args=[pk, step])
        label = request.POST.get("line", "")
        return redirect(f"{address}{f'?line={label}' if label.isalnum() and len(label) < 3 else ''}#stuck")
    return redirect(f"{reverse('submissions:my-assignment', args=[pk])}#stuck")
