"""Whatever a school types: the longest names stay inside their boxes, on every page, at both widths."""

from dataclasses import dataclass
from datetime import timedelta

import pytest
from django.utils.timezone import now
from playwright.sync_api import Page

from bandroom.people.models import Membership, Seat
from submissions.checkins.services import booking, timetable
from submissions.models import Assignment, Criterion, Phrase, Rubric, Slot, Stuck
from tests import factories
from tests.browser.screens import PHONE, WIDE, resize
from tests.submissions.assigning.rows import make_turn_in

pytestmark = pytest.mark.django_db(transaction=True)

BAND = "Larkmere Middle School Sixth-Grade Beginning Band, Brass and Woodwinds"
SECTION = "Trombones and euphonium, second period, room 114"
TITLE = "Stepping stones over the brook, then home by the long lane"
PLACE = "The practice room behind the stage, beside the instrument store"
STUDENTS = (
    ("Maximiliano-Alexander", "Featherstonehaugh-O"),
    ("Anne", "Wolfeschlegelsteinhausenbergerdorff"),
    ("Guadalupe Esperanza del Carmen", "de la Cruz"),
    ("Chukwuemeka", "Papadopoulos-Smith-Jørgensen"),
)
#: Words that stick out of the box they stand in. What is there for a screen reader alone has no box to stick
#: out of, and a tab that says a class period in short has it in words beside it.
STICKS_OUT = """() => {
  const found = new Set();
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (texts.nextNode()) {
    const { data, parentElement } = texts.currentNode;
    const unseen = ".vh, .skip, svg, option, textarea, script, .tab--mini, .scale label span";
    if (!data.trim() || !parentElement.checkVisibility() || parentElement.closest(unseen)) continue;
    let box = parentElement;
    while (["inline", "contents"].includes(getComputedStyle(box).display)) box = box.parentElement;
    const { left, right } = box.getBoundingClientRect();
    const range = document.createRange();
    range.selectNodeContents(texts.currentNode);
    for (const line of range.getClientRects()) {
      if (line.right > right + 1 || line.left < left - 1) found.add(data.trim());
    }
  }
  return [...found];
}"""
TOO_WIDE = "document.documentElement.scrollWidth - innerWidth"


@dataclass(frozen=True, slots=True)
class Scene:
    director: Membership
    assignment: Assignment
    seats: tuple[Seat, ...]
    slots: tuple[Slot, ...]


@pytest.fixture
def scene(band, director) -> Scene:
    at = now()
    band.name, band.school = BAND, f"{BAND} and Academy of the Arts"
    band.save()
    director.user.first_name, director.user.last_name = "Oriana Philippa", "Tesfai-Brandt-Featherstonehaugh"
    director.user.save()
    sections = [
        factories.make_section(band=band, name=f"{SECTION} {number}", period=period)
        for number, period in enumerate(("2", "Second period, Mondays, odd"))
    ]
    rubric = factories.make_rubric(band=band)
    Rubric.objects.update(name="Notes, rhythm, tone, posture and everything else we care about")
    for criterion in Criterion.objects.all():
        criterion.name = f"Counting and keeping a steady pulse, {criterion.name.lower()}"
        criterion.save()
    Phrase.objects.create(
        band=band, kind=Phrase.Kind.WORKED, label="Steady beat and even, all good", text="Good"
    )
    exercise = factories.make_exercise(band=band, title=TITLE)
    exercise.lines.update(caption="half notes, legato, breathe at bar three")
    assignment = factories.make_assignment(
        band=band, sections=sections, opens_at=at - timedelta(days=1), exercise=exercise, rubric=rubric
    )
    assignment.note = f"Breathe together. https://school.example/{'a-long-address/' * 6}"
    assignment.save()
    seats = tuple(
        factories.make_seat(
            section=section,
            instrument="baritone_tc",
            student=factories.make_user(first_name=first, last_name=last),
        )
        for section in sections
        for first, last in STUDENTS
    )
    for seat in seats[1:3]:
        make_turn_in(seat=seat, assignment=assignment, at=at)
    Stuck.objects.create(seat=seats[0], assignment=assignment, line="B", bar=2, at=at)
    slots = timetable.make_slots(
        band=band,
        sections=sections,
        first_starts_at=at + timedelta(hours=1),
        minutes=5,
        count=6,
        place=PLACE,
        at=at,
    )
    for slot, seat in zip(slots, (seats[2], seats[3]), strict=False):
        booking.book(slot=slot, seat=seat, assignment=assignment, wants_help=False, at=at)
    return Scene(director, assignment, seats, tuple(slots))


def assert_all_fits(page: Page, address: str) -> None:
    page.goto(address)
    page.wait_for_load_state("networkidle")
    for width in (WIDE, PHONE):
        resize(page, width)
        assert page.evaluate(TOO_WIDE) <= 0, f"{address} scrolls sideways at {width} px"
        assert page.evaluate(STICKS_OUT) == [], f"{address} at {width} px"


def test_the_longest_names_fit_on_every_page_of_staff(page_at, scene):
    assignment, seat = scene.assignment, scene.seats[1]
    section, student = seat.section_id, seat.student.memberships.get().pk
    posted, exercise = f"/assignments/{assignment.pk}/", f"/exercises/{assignment.exercise_id}/"
    page = page_at(WIDE, scene.director.user)
    for address in (
        "/week/", "/assignments/", "/assignments/new/", f"{posted}edit/", posted, f"{posted}board/",
        f"{posted}desk/", f"{posted}desk/?view=list", f"{posted}desk/{seat.pk}/", "/exercises/", exercise,
        f"{exercise}edit/", f"{exercise}print/", f"{exercise}parts/baritone_tc/", "/exercises/ranges/",
        f"/exercises/ranges/seats/{seat.pk}/", "/fingerings/", "/check-ins/", "/check-ins/new/",
        f"/check-ins/{scene.slots[0].pk}/", f"/check-ins/{scene.slots[0].pk}/edit/",
        f"/check-ins/for/{assignment.pk}/{seat.pk}/", "/band/", "/band/settings/",
        f"/band/sections/{section}/",
        f"/band/students/{student}/", f"/band/students/{student}/erase/", "/band/recording/", "/band/staff/",
        "/band/cards/", "/rubrics/", f"/rubrics/{assignment.rubric_id}/edit/", "/phrases/",
        "/band/checklists/", f"/band/checklists/{section}/", f"/students/{seat.pk}/",
    ):  # fmt: skip
        assert_all_fits(page, address)


def test_the_longest_names_fit_on_every_page_of_a_student(page_at, scene):
    work = f"/work/{scene.assignment.pk}/"
    page = page_at(WIDE, scene.seats[2].student)
    for address in (
        "/work/", "/work/earlier/", work, f"{work}record/A/", "/check-ins/", "/sign-in/",
        *(f"{work}steps/{step}/" for step in ("ready", "signs", "names", "fingers", "play")),
    ):  # fmt: skip
        assert_all_fits(page, address)


def test_first_names_keep_to_their_chairs_and_the_title_to_the_free_middle(page_at, scene):
    page = page_at(WIDE, scene.director.user)
    page.goto(f"/assignments/{scene.assignment.pk}/desk/{scene.seats[3].pk}/")
    wider_than_chair = """() => [...document.querySelectorAll(".band .seat")].filter(
        (seat) => seat.querySelector("text").getBBox().width > seat.querySelector("use").getBBox().width
    ).map((seat) => seat.textContent)"""
    assert page.locator(".band .seat.is-now text").text_content() == "Chukwu…"
    assert page.evaluate(wider_than_chair) == []
    page.goto(f"/assignments/{scene.assignment.pk}/")
    title, free = (page.locator(which).bounding_box() for which in (".podium h1", ".hall__under"))
    assert title["width"] <= 22 * 16
    assert abs(title["x"] + title["width"] / 2 - free["x"] - free["width"] / 2) <= 1
