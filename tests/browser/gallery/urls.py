"""Pages that show every shared component once, for the tests of the look alone. All names are invented."""

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Column, Div, Fieldset, Layout, Row, Submit
from django import forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.template import RequestContext, engines
from django.urls import include, path
from django.utils.safestring import mark_safe

from bandroom.people.models import Band
from bandroom.people.seated import SeatedSection, SeatedStudent, drawing_of

HERE = Path(__file__).parent
DUE = datetime(2026, 10, 9, 1, 0, tzinfo=UTC)
AT = datetime(2026, 10, 6, 20, 0, tzinfo=UTC)
NAMES = (
    "Ilse",
    "Tomas",
    "Wanda",
    "Obi",
    "Petra",
    "Luc",
    "Mirel",
    "Dunya",
    "Aksel",
    "Noor",
    "Rafe",
    "Suri",
    "Etta",
    "Bea",
)
STATES = (
    "waiting",
    "marked",
    "marked",
    "late",
    "redo",
    "not_yet",
    "excused",
    "live",
    "begun",
    "missing",
    "sending",
)
BAND = (
    ("Flute", 9), ("Oboe", 2), ("Clarinet", 12), ("Bassoon", 1), ("Bass clarinet", 1), ("Alto sax", 7),
    ("Tenor sax", 3),
    ("Horn", 4), ("Trumpet", 8), ("Trombone", 6), ("Baritone", 3), ("Tuba", 2), ("Percussion", 5),
)  # fmt: skip


@dataclass(frozen=True)
class Viewer:
    """Stands for a signed-in person where no row of the database is needed."""

    name: str
    is_authenticated: bool = True

    def __str__(self) -> str:
        return self.name


class SlotForm(forms.Form):
    place = forms.CharField(help_text="A room, or the name of the call.")
    starts = forms.DateField(widget=forms.DateInput(attrs={"type": "date"}))
    minutes = forms.IntegerField(initial=5)
    purpose = forms.ChoiceField(
        widget=forms.RadioSelect,
        choices=[("turn-in", "To turn in"), ("help", "For help"), ("either", "Either")],
    )
    sections = forms.MultipleChoiceField(
        widget=forms.CheckboxSelectMultiple, required=False, choices=[("2", "Period 2"), ("5", "Period 5")]
    )
    shared = forms.BooleanField(required=False, label="Show it to students now")
    words = forms.CharField(widget=forms.Textarea, required=False, label="A note to students")
    roster = forms.FileField(required=False)
    kind = forms.ChoiceField(choices=[("a", "by video"), ("b", "in a room")])

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.layout = Layout(
            Fieldset("Where and when", Row("place", "starts", "minutes", "kind"), "purpose"),
            Div(Column("sections", "shared"), "words", "roster"),
        )
        self.helper.add_input(Submit("save", "Add these times"))


def seated(sizes: tuple[tuple[str, int], ...]) -> list[SeatedSection]:
    counter, sections = 0, []
    for name, size in sizes:
        students = []
        for _ in range(size):
            first, state = NAMES[counter % len(NAMES)], STATES[counter % len(STATES)]
            students.append(
                SeatedStudent(
                    first, f"{first}, {name.lower()}: {state}", state, f"?seat={counter}", counter == 14
                )
            )
            counter += 1
        sections.append(SeatedSection(name, students, count=f"{size - 1} of {size}" if size > 10 else ""))
    return sections


def show(request: HttpRequest, name: str, *, student: bool = False, visitor: bool = False) -> HttpResponse:
    band = Band(name="Harrow Bend Band", time_zone="America/Chicago")
    request.user = Viewer("" if visitor else "Ms. Imre Castellan", is_authenticated=not visitor)
    request.membership = None if visitor else SimpleNamespace(band=band, is_student=student)
    times = {"big": 4, "one": 1}.get(request.GET.get("band", ""), 1)
    sizes = tuple((section, size * times) for section, size in BAND)
    if request.GET.get("band") == "one":
        sizes = (("Clarinet", 1),)
    sections = seated(sizes)
    if "said" in request.GET:
        messages.success(request, "Posted to Period 2 and Period 5.")
        messages.error(request, "That file is empty. Pick another; nothing was changed.")
        messages.warning(request, "Two students have no sign-in card yet.")
    context = {
        "band": band, "due": DUE, "at": AT, "sections": sections, "states": STATES,
        "drawing": drawing_of(sections),
        "form": SlotForm(), "bad_form": SlotForm(data={"minutes": "x"}, prefix="bad"),
        "line": mark_safe((HERE / "line.html").read_text()),  # noqa: S308 - a file of this test
        "page_obj": Paginator(range(95), 20).page(2),
    }  # fmt: skip
    template = engines["django"].from_string((HERE / name).read_text())
    return HttpResponse(template.template.render(RequestContext(request, context)))


urlpatterns = [
    path("gallery/desk", lambda request: show(request, "desk.html")),
    path("gallery/parts", lambda request: show(request, "parts.html")),
    path("gallery/forms", lambda request: show(request, "forms.html")),
    path("gallery/student", lambda request: show(request, "student.html", student=True)),
    path("gallery/door", lambda request: show(request, "door.html", visitor=True)),
    path("gallery/sent", lambda request: HttpResponse(f"{request.method} {request.body.decode()}")),
    path("gallery/away", lambda request: HttpResponse(status=302, headers={"Location": "/gallery/door"})),
    path("gallery/refused", lambda request: HttpResponse("no", status=409)),
    path("", include("bandroom.urls")),
]
