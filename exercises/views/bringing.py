"""A music file brought in: read, sorted into lines, and handed to the writing page as text."""

from collections.abc import Mapping
from pathlib import PurePosixPath

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_POST

from bandroom.people.access import director_or_404, signed_in
from exercises.forms.bringing import FileForm, SortForm
from exercises.forms.writing import ExerciseForm, initial_of_lines, labels_in
from exercises.models import Exercise
from exercises.music.errors import MusicError
from exercises.music.incoming import MOST_BYTES, ReadResult
from exercises.views.writing import writing_page

TITLE_LETTERS = 80
TYPED = "typed-"
_SOURCES = {b"MThd": Exercise.Source.MIDI, b"PK": Exercise.Source.MUSICXML, b"<": Exercise.Source.MUSICXML}


@require_POST
@signed_in
def bring_in(request: HttpRequest) -> HttpResponse:
    """Read the file that was sent with the writing page. Whatever is wrong with it, typed notes stay."""
    band = director_or_404(request).band
    if request.POST.get("do") == "back":
        before = _typed_before(request.POST)
        return writing_page(request, band=band, form=ExerciseForm(initial=before, labels=labels_in(before)))
    form = FileForm(request.POST, request.FILES)
    typed = ExerciseForm(initial=request.POST.dict(), labels=labels_in(request.POST))
    if not form.is_valid():
        problem = str(next(iter(form.errors.values()))[0])
        return writing_page(request, band=band, form=typed, file_problem=problem)
    upload, written_for = form.cleaned_data["file"], form.cleaned_data["file_written_for"]
    try:
        found, source = _read(upload, written_for=written_for)
    except MusicError as error:
        return writing_page(request, band=band, form=typed, file_problem=error.message)
    sorting = SortForm(
        found=found.lines,
        initial={
            "title": request.POST.get("title", "").strip()[:TITLE_LETTERS] or _title(upload.name),
            "source": source,
            "tempo": found.tempo,
            "came_from": written_for,
        },
    )
    context = {
        "form": sorting,
        "problems": found.problems,
        "file": upload.name,
        "typed": {name: value for name, value in request.POST.items() if name != "csrfmiddlewaretoken"},
    }
    return render(request, "exercises/sort.html", context)


@require_POST
@signed_in
def sort(request: HttpRequest) -> HttpResponse:
    """The lines as the director sorted them, on the writing page: seen and changed before they are saved."""
    band = director_or_404(request).band
    form = SortForm(request.POST)
    if not form.is_valid():
        context = {"form": form, "problems": (), "typed": _typed_before(request.POST)}
        return render(request, "exercises/sort.html", context, status=422)
    labels, initial = initial_of_lines(
        form.chosen,
        title=form.cleaned_data["title"],
        source=Exercise.Source(form.cleaned_data["source"]),
        tempo=form.cleaned_data["tempo"],
    )
    initial["came_from"] = form.cleaned_data["came_from"]
    return writing_page(
        request,
        band=band,
        form=ExerciseForm(initial=initial, labels=labels),
        came=("The notes of the file are below, in concert pitch. Look at them, then save.",),
    )


def _typed_before(data: Mapping[str, str]) -> dict[str, str]:
    """What stood on the writing page when the file was read; it travels with the sorting."""
    return {name.removeprefix(TYPED): value for name, value in data.items() if name.startswith(TYPED)}


def _read(upload: "UploadedFile[bytes]", *, written_for: str) -> tuple[ReadResult, Exercise.Source]:
    from exercises.music.uploads import read_upload  # noqa: PLC0415 - lxml, and music21 for some files

    if (upload.size or 0) > MOST_BYTES:
        raise MusicError("This file is too large for one exercise (more than 1 MB): choose a smaller one.")
    data = upload.read()
    found = read_upload(data, written_for=written_for or None)
    head = data[:200].lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n\x00")
    source = next((kind for start, kind in _SOURCES.items() if head.startswith(start)), Exercise.Source.ABC)
    return found, source


def _title(name: str | None) -> str:
    """The name of the file without its ending, as a first title."""
    return PurePosixPath(name or "").stem.replace("_", " ").strip()[:TITLE_LETTERS]
