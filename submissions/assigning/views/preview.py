"""An exercise as a student of one instrument will see it, before it is posted."""

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.safestring import SafeString
from django.utils.timezone import now
from django.views.decorators.http import require_POST

from bandroom.people.access import director_or_404, signed_in
from bandroom.people.instruments import Instrument
from exercises.models import Exercise, ExerciseLine
from exercises.music.engraving import line_svg
from exercises.music.errors import MusicError
from exercises.parts import Layout, engraved_line
from submissions.assigning import queries
from submissions.assigning.forms.posting import PostForm
from submissions.assigning.rubrics import default_rubric


@dataclass(frozen=True, slots=True)
class PostedLine:
    """`svg` is empty where the part cannot be made; `problem` then says why."""

    label: str
    caption: str
    tempo: int
    svg: SafeString
    problem: str


@require_POST
@signed_in
def preview_part(request: HttpRequest, pk: int) -> HttpResponse:
    """Takes the form as it stands, changes nothing, and shows what can be shown of it."""
    band = director_or_404(request).band
    exercise = get_object_or_404(Exercise.objects.prefetch_related("lines"), pk=pk, band=band)
    asked = request.POST.get("instrument", "")
    instrument = Instrument(asked) if asked in Instrument else Instrument.FLUTE
    at = now()
    form = PostForm(
        request.POST,
        band=band,
        exercise=exercise,
        sections=queries.sections_with_seats(band=band, at=at),
        rubric=default_rubric(band=band, at=at),
        at=at,
    )
    form.is_valid()
    decided = form.cleaned_data
    labels = decided.get("lines", [])
    tempos = decided.get("tempos", {})
    return render(
        request,
        "submissions/assigning/preview.html",
        {
            "band": band,
            "at": at,
            "exercise": exercise,
            "instrument": instrument,
            "note": decided.get("note", ""),
            "due": decided.get("due"),
            "lines": [
                _previewed(line, instrument=instrument, tempo=tempos.get(line.label, line.tempo_bpm))
                for line in exercise.lines.all()
                if line.label in labels
            ],
        },
    )


def _previewed(line: ExerciseLine, *, instrument: Instrument, tempo: int) -> PostedLine:
    try:
        engraving = engraved_line(
            line=line, instrument=instrument.value, layout=Layout.PHONE, prefix=f"p{line.label}"
        )
    except MusicError as error:
        return PostedLine(line.label, line.caption, tempo, svg=SafeString(""), problem=error.message)
    label = f"Line {line.label} for {instrument.label}"
    return PostedLine(
        line.label, line.caption, tempo, svg=SafeString(line_svg(engraving, label=label)), problem=""
    )
