"""Fingerings: the director says yes, corrects, adds; the band's switches."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from bandroom.people.access import director_or_404, signed_in, staff_or_404
from bandroom.people.instruments import Instrument
from bandroom.people.models import Band
from exercises.fingerings import fingering_choices
from exercises.forms.fingerings import FingeringForm, PartPolicyForm
from exercises.models import FingeringChoice, PartPolicy
from exercises.music.errors import MusicError
from exercises.music.fingering_tables import FingeringRow
from exercises.pages.fingerings import TableNote, fingering_table, has_table
from exercises.parts import part_policy
from exercises.queries import seated_instruments
from exercises.services import fingerings as fingering_services
from exercises.views.parts import instrument_or_404


@require_safe
@signed_in
def fingerings(request: HttpRequest) -> HttpResponse:
    """Every instrument, how much of its table waits, and the switches."""
    membership = staff_or_404(request)
    band = membership.band
    seated = seated_instruments(band=band)
    listed = [each for each in Instrument if has_table(each)]
    said: dict[str, list[FingeringChoice]] = {}
    for choice in FingeringChoice.objects.filter(band=band).select_related("confirmed_by"):
        said.setdefault(choice.instrument, []).append(choice)
    counted = [
        (
            each,
            _waiting(fingering_table(band=band, instrument=each, choices=said.get(each, ()))),
            each in seated,
        )
        for each in listed
    ]
    return render(
        request,
        "exercises/fingerings.html",
        {
            "counted": sorted(counted, key=lambda row: not row[2]),
            "form": PartPolicyForm(instance=part_policy(band)),
            "may_write": membership.is_director,
        },
    )


@require_POST
@signed_in
def part_settings(request: HttpRequest) -> HttpResponse:
    """Reminder signs, the limit of signs, and the switches of fingerings."""
    band = director_or_404(request).band
    policy = PartPolicy.objects.filter(band=band).first() or PartPolicy(band=band)
    form = PartPolicyForm(request.POST, instance=policy)
    if not form.is_valid():
        return render(
            request, "exercises/fingerings.html", {"counted": [], "form": form, "may_write": True}, status=422
        )
    form.save()
    messages.success(request, "Saved. Parts and fingerings follow at once.")
    return redirect("exercises:fingerings")


@require_safe
@signed_in
def fingering_page(request: HttpRequest, instrument: str) -> HttpResponse:
    """The whole table of one instrument."""
    membership = staff_or_404(request)
    player = _player_or_404(instrument)
    notes = _table(membership.band, player)
    return render(
        request,
        "exercises/fingering_page.html",
        {
            "player": player,
            "notes": notes,
            "waiting": _waiting(notes),
            "may_write": membership.is_director,
        },
    )


@require_POST
@signed_in
def confirm_fingerings(request: HttpRequest, instrument: str) -> HttpResponse:
    """Yes to the rows that were sent; `take-back` and `reset` name one row."""
    membership = director_or_404(request)
    player = _player_or_404(instrument)
    band, post = membership.band, request.POST
    if "take-back" in post:
        fingering_services.take_back(band=band, instrument=player, row=post["take-back"])
        messages.success(request, "The yes is taken back: students do not see this one.")
    elif "reset" in post:
        fingering_services.reset(band=band, instrument=player, row=post["reset"])
        messages.success(request, "This one is as the table has it, and waits for your yes.")
    else:
        fresh = fingering_services.confirm(
            band=band, instrument=player, rows=post.getlist("row"), by=membership.user, at=now()
        )
        messages.success(request, f"{fresh} fingering{'' if fresh == 1 else 's'} confirmed.")
    return redirect("exercises:fingering-page", instrument=player.value)


@require_http_methods(["GET", "HEAD", "POST"])
@signed_in
def fingering_note(request: HttpRequest, instrument: str, midi: int) -> HttpResponse:
    """One note: correct a row of it, or add an alternate (the row "own")."""
    membership = director_or_404(request)
    band, player = membership.band, _player_or_404(instrument)
    notes = _table(band, player)
    note = next((each for each in notes if each.midi == midi), None)
    if note is None:
        raise Http404
    asked = request.POST.get("row") or request.GET.get("row") or note.rows[0].row.id
    shown = next((each for each in note.rows if each.row.id == asked), None)
    if shown is None and asked != fingering_services.OWN:
        raise Http404
    row = shown.row if shown else note.rows[0].row
    form = _form(request, row, adds=shown is None)
    if request.method == "POST" and form.is_valid():
        try:
            fingering_services.correct(
                band=band,
                instrument=player,
                row=row.id if shown else fingering_services.own_row(row),
                keys=form.cleaned_data["keys"],
                hint=form.cleaned_data["hint"],
                when=form.cleaned_data["when"],
                by=membership.user,
                at=now(),
            )
        except MusicError as error:
            form.add_error(None, error.message)
        else:
            messages.success(request, f"{note.spoken} is saved and confirmed.")
            return redirect("exercises:fingering-page", instrument=player.value)
    return render(
        request,
        "exercises/fingering_note.html",
        {"player": player, "note": note, "shown": shown, "asked": asked, "form": form},
        status=422 if form.is_bound else 200,
    )


def _table(band: Band, player: Instrument) -> tuple[TableNote, ...]:
    choices = fingering_choices(band=band, instrument=player)
    return fingering_table(band=band, instrument=player, choices=choices)


def _form(request: HttpRequest, row: FingeringRow, *, adds: bool) -> FingeringForm:
    if request.method == "POST":
        return FingeringForm(request.POST, row=row)
    first = {} if adds else {"keys": list(row.keys or ()), "when": row.when, "hint": row.hint}
    return FingeringForm(row=row, initial=first)


def _player_or_404(instrument: str) -> Instrument:
    player = instrument_or_404(instrument)
    if not has_table(player):
        raise Http404
    return player


def _waiting(notes: tuple[TableNote, ...]) -> int:
    """Rows that students would see if the director said yes."""
    return sum(row.waits for note in notes for row in note.rows)
