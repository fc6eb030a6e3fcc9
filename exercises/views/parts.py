"""The wall of all parts, one part alone, and what the director decides about it."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from bandroom.people.access import director_or_404, signed_in, staff_or_404
from bandroom.people.instruments import Instrument
from bandroom.people.models import Band
from bandroom.people.paper import Paper
from exercises.forms.choices import ALL_KEYS, key_choices, key_label
from exercises.forms.deciding import DecisionForm, PartDecision
from exercises.models import Exercise, ExerciseLine
from exercises.music.errors import MusicError
from exercises.music.pitch import Pitch
from exercises.pages.part import part_page
from exercises.pages.wall import wall_of
from exercises.parts import part_of
from exercises.queries import seated_instruments
from exercises.services import parts as part_services
from exercises.services.exercises import newest_version


@require_safe
@signed_in
def exercise(request: HttpRequest, pk: int) -> HttpResponse:
    membership = staff_or_404(request)
    found = exercise_or_404(pk, band=membership.band)
    lines = list(found.lines.all())
    line = next((each for each in lines if each.label == request.GET.get("line")), lines[0])
    seated = seated_instruments(band=membership.band)
    shows_all = not seated or "all" in request.GET
    shown = [each for each in Instrument if shows_all or each in seated]
    problem, wall = "", None
    try:
        wall = wall_of(line=line, instruments=shown)
    except MusicError as error:
        problem = error.message
    return render(
        request,
        "exercises/exercise.html",
        {
            "exercise": found,
            "newest": newest_version(found),
            "key": key_label(found.concert_fifths),
            "keys": key_choices([each for each in ALL_KEYS if each != found.concert_fifths]),
            "lines": lines,
            "line": line,
            "wall": wall,
            "problem": problem,
            "shows_all": shows_all,
            "seated": seated,
            "is_posted": found.is_posted(),
            "may_write": membership.is_director,
        },
    )


@require_safe
@signed_in
def part(request: HttpRequest, pk: int, instrument: str) -> HttpResponse:
    """One instrument's part: both lines, how they are read and fingered, and what to decide."""
    membership = staff_or_404(request)
    found = exercise_or_404(pk, band=membership.band)
    player = instrument_or_404(instrument)
    names = "names" in request.GET
    problem, page = "", None
    try:
        page = part_page(exercise=found, instrument=player, names=names)
    except MusicError as error:
        problem = error.message
    return render(
        request,
        "exercises/part.html",
        {
            "exercise": found,
            "player": player,
            "players": Instrument.choices,
            "page": page,
            "problem": problem,
            "names": names,
            "paper": Paper.usual_in(membership.band.time_zone),
            "is_posted": found.is_posted(),
            "may_write": membership.is_director,
        },
    )


@require_POST
@signed_in
def decide(request: HttpRequest, pk: int, instrument: str) -> HttpResponse:
    found = exercise_or_404(pk, band=director_or_404(request).band)
    player = instrument_or_404(instrument)
    form = DecisionForm(request.POST)
    line = _line_of(found, request.POST.get("line", ""))
    if not form.is_valid():
        messages.error(request, str(next(iter(form.errors.values()))[0]))
        return redirect(_back(request, found, player, line))
    try:
        said = _decide(found, player, line, form)
    except MusicError as error:
        messages.error(request, error.message)
    else:
        messages.success(request, f"{player.label}: {said}")
    return redirect(_back(request, found, player, line))


def _decide(found: Exercise, player: Instrument, line: ExerciseLine, form: DecisionForm) -> str:
    """Make the decision; what happened, in words."""
    decision: PartDecision = form.cleaned_data["do"]
    index = form.cleaned_data["index"] or 0
    match decision:
        case PartDecision.UP | PartDecision.DOWN:
            step = 1 if decision is PartDecision.UP else -1
            octave = part_of(line=line, instrument=player).octaves + step
            part_services.choose_octave(exercise=found, instrument=player, octave=octave)
            return "moved one octave " + ("up." if step > 0 else "down.")
        case PartDecision.ENGINE:
            part_services.choose_octave(exercise=found, instrument=player, octave=None)
            return "back in the octave that suits its range best."
        case PartDecision.ACCEPT:
            part_services.accept_outside(exercise=found, instrument=player, accepted=True)
            return "the notes outside the range are allowed here."
        case PartDecision.TAKE_BACK:
            part_services.accept_outside(exercise=found, instrument=player, accepted=False)
            return "the notes outside the range wait for a decision again."
        case PartDecision.LEAVE_OUT:
            part_services.leave_out(line=line, instrument=player, index=index)
            return "the note is left out."
        case PartDecision.INSTEAD:
            pitch = Pitch.parse(form.cleaned_data["pitch"])
            part_services.play_instead(line=line, instrument=player, index=index, pitch=pitch)
            return f"{pitch.printed} is played instead."
        case PartDecision.AS_WRITTEN:
            part_services.as_written(line=line, instrument=player, index=index)
            return "the note is as in the line again."


def exercise_or_404(pk: int, *, band: Band) -> Exercise:
    """The band's exercise with all that its parts are made from."""
    found = get_object_or_404(
        Exercise.objects.for_parts().select_related("band", "replaced_by"), pk=pk, band=band
    )
    if not found.lines.all():
        raise Http404
    return found


def instrument_or_404(instrument: str) -> Instrument:
    if instrument not in Instrument.values:
        raise Http404
    return Instrument(instrument)


def _line_of(found: Exercise, label: str) -> ExerciseLine:
    lines = list(found.lines.all())
    return next((each for each in lines if each.label == label), lines[0])


def _back(request: HttpRequest, found: Exercise, player: Instrument, line: ExerciseLine) -> str:
    if request.POST.get("back") == "part":
        return f"{reverse('exercises:part', args=[found.pk, player.value])}#line-{line.label}"
    shows_all = "&all" if "all" in request.POST else ""
    return f"{reverse('exercises:exercise', args=[found.pk])}?line={line.label}{shows_all}"
