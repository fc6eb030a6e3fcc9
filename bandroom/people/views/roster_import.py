"""Give the list, say what its columns hold, see what will happen; only then is anything written."""

from dataclasses import replace

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.views.decorators.http import require_http_methods, require_POST

from bandroom.people.access import director_or_404, signed_in
from bandroom.people.forms.roster_import import ChoicesForm, ListForm
from bandroom.people.models import Membership
from bandroom.people.roster_import.apply import BandHasChanged, Imported, apply_draft
from bandroom.people.roster_import.band_state import band_state
from bandroom.people.roster_import.columns import guess_layout
from bandroom.people.roster_import.draft import Choices, DraftError, RosterDraft, opened_draft, signed_draft
from bandroom.people.roster_import.plan import Plan, RowOutcome, make_plan, tally


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def roster_import(request: HttpRequest) -> HttpResponse:
    """The list, as a file or pasted."""
    director = director_or_404(request)
    form = ListForm(request.POST, request.FILES) if request.method == "POST" else ListForm()
    if form.is_valid():
        table = form.cleaned_data["table"]
        draft = RosterDraft(table=table, choices=Choices(layout=guess_layout(table)))
        return _choices_page(request, director, draft=draft)
    context = {"form": form}
    return render(request, "people/import_list.html", context, status=422 if form.is_bound else 200)


@require_POST
@signed_in
def import_preview(request: HttpRequest) -> HttpResponse:
    """What will happen, with the columns as the director has said."""
    director = director_or_404(request)
    try:
        draft = opened_draft(request.POST.get("draft", ""), membership=director)
    except DraftError as wrong:
        return _begin_again(request, wrong)
    plan = _plan(director, draft)
    form = ChoicesForm(request.POST, band=director.band, draft=draft, unknown=plan.unknown_instruments)
    if not form.is_valid():
        return _choices_page(request, director, draft=draft, form=form, status=422)
    draft = replace(draft, choices=form.choices())
    return _preview_page(request, director, draft=draft)


@require_POST
@signed_in
def import_apply(request: HttpRequest) -> HttpResponse:
    """Exactly what the preview showed, or nothing."""
    director = director_or_404(request)
    try:
        draft = opened_draft(request.POST.get("draft", ""), membership=director)
    except DraftError as wrong:
        return _begin_again(request, wrong)
    if not draft.seen:
        return _preview_page(request, director, draft=draft)
    plan = _plan(director, draft)
    if plan.of(RowOutcome.PROBLEM) and not request.POST.get("without_problems"):
        wrong_sentence = "Tick that the rows with problems are left out, or put them right in your list."
        return _preview_page(request, director, draft=draft, wrong=wrong_sentence, status=422)
    try:
        done = apply_draft(band=director.band, draft=draft, at=now())
    except BandHasChanged:
        wrong_sentence = "The band has changed since this page was made: look again, nothing was written."
        return _preview_page(request, director, draft=draft, wrong=wrong_sentence, status=409)
    messages.success(request, _done_words(done))
    return redirect("people:cards" if done.new else "people:band")


def _plan(director: Membership, draft: RosterDraft) -> Plan:
    return make_plan(table=draft.table, choices=draft.choices, state=band_state(director.band))


def _begin_again(request: HttpRequest, wrong: DraftError) -> HttpResponse:
    messages.error(request, str(wrong))
    return redirect("people:import")


def _done_words(done: Imported) -> str:
    words = [f"{done.new} new", f"{done.changed} changed"]
    if done.left:
        words.append(f"{done.left} left out")
    end = "Now print cards for the new students." if done.new else "Nobody needs a new card."
    return f"Imported: {', '.join(words)}. {end}"


def _choices_page(
    request: HttpRequest,
    director: Membership,
    *,
    draft: RosterDraft,
    form: ChoicesForm | None = None,
    status: int = 200,
) -> HttpResponse:
    form = form or ChoicesForm(band=director.band, draft=draft, unknown=())
    context = {
        "form": form,
        "draft": signed_draft(draft, membership=director),
        "count": len(draft.choices.layout.rows(draft.table)),
    }
    return render(request, "people/import_columns.html", context, status=status)


def _preview_page(
    request: HttpRequest, director: Membership, *, draft: RosterDraft, wrong: str = "", status: int = 200
) -> HttpResponse:
    plan = _plan(director, draft)
    counts = tally(plan)
    context = {
        "plan": plan,
        "wrong": wrong,
        "counts": [(outcome, counts[outcome]) for outcome in RowOutcome],
        "groups": [(outcome, plan.of(outcome)) for outcome in RowOutcome],
        "problems": counts[RowOutcome.PROBLEM],
        "taken": counts[RowOutcome.NEW] + counts[RowOutcome.CHANGED],
        "form": ChoicesForm(band=director.band, draft=draft, unknown=plan.unknown_instruments),
        "draft": signed_draft(draft.shown(plan.fingerprint), membership=director),
    }
    return render(request, "people/import_preview.html", context, status=status)
