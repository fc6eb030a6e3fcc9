"""Parts to take away: PDF for the stand, MusicXML and MIDI for other programs."""

from collections.abc import Sequence

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from bandroom.people.access import signed_in, staff_or_404
from bandroom.people.instruments import Instrument
from bandroom.people.printing import CannotPrint
from exercises.forms.printing import PrintForm
from exercises.models import Exercise
from exercises.music.errors import MusicError
from exercises.music.midi_out import score_to_midi
from exercises.music.musicxml_out import score_to_musicxml
from exercises.music.part import Part
from exercises.parts import part_of, part_policy
from exercises.views.parts import exercise_or_404, instrument_or_404

MUSICXML = "application/vnd.recordare.musicxml+xml"
MIDI = "audio/midi"


@require_safe
@signed_in
def print_parts(request: HttpRequest, pk: int) -> HttpResponse:
    """What to print and how; with an answer in the address, the PDF itself."""
    band = staff_or_404(request).band
    found = exercise_or_404(pk, band=band)
    form = PrintForm(request.GET if "who" in request.GET else None, band=band)
    if not form.is_valid():
        return render(
            request,
            "exercises/print.html",
            {"exercise": found, "form": form},
            status=422 if form.is_bound else 200,
        )
    try:
        from exercises.printing.pdf import parts_pdf  # noqa: PLC0415 - WeasyPrint, for who prints

        pdf = parts_pdf(
            exercise=found,
            instruments=form.instruments(),
            paper=form.cleaned_data["paper"],
            guide=form.cleaned_data["guide"],
        )
    except (MusicError, CannotPrint) as error:
        form.add_error(None, error.message if isinstance(error, MusicError) else error.sentence)
        return render(request, "exercises/print.html", {"exercise": found, "form": form}, status=422)
    return _file(pdf, kind="application/pdf", name=f"{_stem(found)}.pdf", inline=True)


@require_safe
@signed_in
def part_file(request: HttpRequest, pk: int, instrument: str, kind: str) -> HttpResponse:
    """One instrument's lines one after another as MusicXML or MIDI."""
    found = exercise_or_404(pk, band=staff_or_404(request).band)
    player = instrument_or_404(instrument)
    return _music_file(request, found, [player], kind, name=f"{_stem(found)}-{slugify(player.value)}")


@require_safe
@signed_in
def score_file(request: HttpRequest, pk: int, kind: str) -> HttpResponse:
    """All instruments as one score."""
    found = exercise_or_404(pk, band=staff_or_404(request).band)
    return _music_file(request, found, list(Instrument), kind, name=f"{_stem(found)}-score")


def _music_file(
    request: HttpRequest, found: Exercise, players: Sequence[Instrument], kind: str, *, name: str
) -> HttpResponse:
    lines = list(found.lines.all())
    tempos = [line.tempo_bpm for line in lines]
    try:
        parts: list[list[Part]] = [
            [part_of(line=line, instrument=player) for line in lines] for player in players
        ]
    except MusicError as error:
        messages.error(request, error.message)
        return redirect("exercises:exercise", pk=found.pk)
    match kind:
        case "musicxml":
            courtesy = part_policy(found.band).courtesy_signs
            text = score_to_musicxml(parts, title=found.title, tempos=tempos, courtesy=courtesy)
            return _file(text.encode(), kind=MUSICXML, name=f"{name}.musicxml")
        case "mid":
            midi = score_to_midi(parts, tempos=tempos, title=found.title)
            return _file(midi, kind=MIDI, name=f"{name}.mid")
        case _:
            raise Http404


def _stem(found: Exercise) -> str:
    """A file name of plain letters."""
    return slugify(found.title) or f"exercise-{found.pk}"


def _file(data: bytes, *, kind: str, name: str, inline: bool = False) -> HttpResponse:
    disposition = "inline" if inline else "attachment"
    return HttpResponse(
        data, content_type=kind, headers={"Content-Disposition": f'{disposition}; filename="{name}"'}
    )
