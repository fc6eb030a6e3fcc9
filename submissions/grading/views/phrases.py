"""The director's phrase bank: one page, changed in place."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from bandroom.people.access import director_or_404, signed_in
from bandroom.people.models import Band
from submissions.grading import queries
from submissions.grading.forms import PhraseForm
from submissions.grading.services import phrases as bank
from submissions.models import Phrase


@require_safe
@signed_in
def phrases(request: HttpRequest) -> HttpResponse:
    return _page(request, director_or_404(request).band)


@require_POST
@signed_in
def phrase_add(request: HttpRequest) -> HttpResponse:
    band = director_or_404(request).band
    kind = request.POST.get("kind", "")
    form = PhraseForm(request.POST, prefix=kind)
    if kind not in Phrase.Kind.values or not form.is_valid():
        return _page(request, band, adding=kind, form=form, status=422)
    bank.add_phrase(
        band=band,
        kind=Phrase.Kind(kind),
        label=form.cleaned_data["label"],
        text=form.cleaned_data["text"],
    )
    return redirect("submissions:phrases")


@require_POST
@signed_in
def phrase_edit(request: HttpRequest, pk: int) -> HttpResponse:
    band = director_or_404(request).band
    phrase = get_object_or_404(Phrase, band=band, pk=pk)
    form = PhraseForm(request.POST, instance=phrase, prefix=f"p{pk}")
    if not form.is_valid():
        return _page(request, band, editing=pk, form=form, status=422)
    bank.change_phrase(phrase=phrase, label=form.cleaned_data["label"], text=form.cleaned_data["text"])
    return redirect("submissions:phrases")


@require_POST
@signed_in
def phrase_move(request: HttpRequest, pk: int) -> HttpResponse:
    phrase = get_object_or_404(Phrase, band=director_or_404(request).band, pk=pk)
    bank.move_phrase(phrase=phrase, step=-1 if request.POST.get("way") == "up" else 1)
    return redirect("submissions:phrases")


@require_POST
@signed_in
def phrase_delete(request: HttpRequest, pk: int) -> HttpResponse:
    phrase = get_object_or_404(Phrase, band=director_or_404(request).band, pk=pk)
    bank.delete_phrase(phrase=phrase)
    return redirect("submissions:phrases")


def _page(
    request: HttpRequest,
    band: Band,
    *,
    adding: str = "",
    editing: int | None = None,
    form: PhraseForm | None = None,
    status: int = 200,
) -> HttpResponse:
    """`form` is the one that was refused, of the kind `adding` or the phrase `editing`."""
    groups = []
    for kind, found in queries.phrases_of(band=band).items():
        rows = [
            (phrase, form if phrase.pk == editing else PhraseForm(instance=phrase, prefix=f"p{phrase.pk}"))
            for phrase in found
        ]
        new = form if adding == kind else PhraseForm(prefix=kind)
        groups.append((Phrase.Kind(kind), rows, new))
    return render(request, "submissions/grading/phrases.html", {"groups": groups}, status=status)
