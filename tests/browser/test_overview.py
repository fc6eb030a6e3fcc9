"""The overview with a section's misses, the board, and a student's year, in a real browser."""

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils.timezone import now
from playwright.sync_api import Page, expect

from bandroom.people.models import Membership
from exercises.models import Exercise, ExerciseLine
from exercises.music.notation import parse_notation
from exercises.music.score import FOUR_FOUR, line_to_json
from submissions.models import Assignment, TurnIn
from submissions.turn_ins import services as turn_ins
from tests import factories
from tests.browser.screens import PHONE, WIDE, resize
from tests.submissions.grading.conftest import make_take
from tests.submissions.grading.evidence import NOT_HEARD, evidence, make_hearing, other, unsure

pytestmark = pytest.mark.django_db(transaction=True)
LINES = {
    "A": "Bb3:2 A3 | G3 Ab3 | G3 A3 | C4 F3 | Bb3:4 |",
    "B": "Bb3:1 A3 G3 A3 | G3 Ab3 A3 Ab3 | F3:2 F#3~ | F#3:1 F3 G3 rest | Bb3:4 |",
}
SOUNDING = {
    "A": [58, 57, 55, 56, 55, 57, 60, 53, 58],
    "B": [58, 57, 55, 57, 55, 56, 57, 56, 53, 54, 53, 55, 58],
}
PLAYERS: list[dict[int, Any]] = [
    {5: other(1, "B4"), 10: other(1, "G#4")},
    {5: other(1, "B4"), 10: other(1, "G#4"), 3: NOT_HEARD},
    {5: other(1, "B4"), 10: other(1, "G#4"), 3: NOT_HEARD},
    {10: other(1, "G#4"), 7: unsure()},
    {},
]


@pytest.fixture
def assignment(band, section) -> Assignment:
    exercise = Exercise.objects.create(band=band, title="Sidesteps", created_at=factories.MONDAY)
    for order, (label, text) in enumerate(LINES.items()):
        score = line_to_json(parse_notation(text, label=label, metre=FOUR_FOUR, fifths=-2))
        ExerciseLine.objects.create(exercise=exercise, label=label, order=order, tempo_bpm=80, score=score)
    return factories.make_assignment(
        band=band, sections=[section], opens_at=now() - timedelta(days=2), exercise=exercise
    )


@pytest.fixture
def played(section, assignment) -> list[TurnIn]:
    """Five clarinets on line B, one saxophone, and line A heard of the first two."""
    rows = []
    posting = assignment.postings.select_related("assignment").get()
    for number, slips in enumerate(PLAYERS):
        seat = factories.make_seat(section=section)
        takes = {line: make_take(seat=seat, assignment=assignment, lines=(line,), at=now()) for line in "AB"}
        rows.append(turn_ins.turn_in(seat=seat, posting=posting, takes=takes, at=now()))
        for line in "AB" if number < 2 else "B":
            sounding = SOUNDING[line]
            make_hearing(
                take=takes[line],
                line=line,
                evidence=evidence(
                    sounding=sounding,
                    starts=[float(n) for n in range(len(sounding))],
                    slips=slips if line == "B" else {},
                ),
            )
    factories.make_seat(section=section, instrument="alto_sax")
    return rows


def overview(assignment: Assignment) -> str:
    return reverse("submissions:assignment", args=[assignment.pk])


def missed(page: Page) -> Any:
    return page.locator('section[aria-labelledby="missed"]')


def test_the_picture_fits_the_screen_and_the_paper_and_every_root_its_note(
    page_at, director, assignment, played
):
    page = page_at(WIDE, director.user)
    page.goto(overview(assignment))
    places = missed(page).locator(".roots-places h3")
    for width, shown, hidden in ((WIDE, "wide", "narrow"), (PHONE, "narrow", "wide")):
        resize(page, width)
        expect(missed(page).locator(f"svg.only-{shown}")).to_be_visible()
        expect(missed(page).locator(f"svg.only-{hidden}")).to_be_hidden()
        frame = missed(page).locator("figure").bounding_box()
        ticks = missed(page).locator(f"svg.only-{shown} .roots__tick").all()
        assert ticks
        for tick in ticks:
            box = tick.bounding_box()
            assert frame["x"] < box["x"] < box["x"] + box["width"] < frame["x"] + frame["width"]
        expect(places).to_have_text(
            [
                "1 Bar 4, beat 2: 4 of 5 played G sharp.",
                "2 Bar 2, beat 2: 3 of 5 played B.",
                "3 Bar 1, beat 4: 2 of 5 not heard.",
            ],
            use_inner_text=True,
        )
    # On paper the wide line stands with its places.
    page.emulate_media(media="print")
    expect(missed(page).locator("svg.only-wide")).to_be_visible()
    expect(missed(page).locator("svg.only-narrow")).to_be_hidden()
    expect(missed(page).locator(".roots-places")).to_be_visible()
    expect(missed(page).get_by_role("link", name="Put line B on the board")).to_be_hidden()


def test_another_line_and_another_instrument_are_plain_links(page_at, director, assignment, played):
    page = page_at(WIDE, director.user)
    page.goto(overview(assignment))
    missed(page).get_by_role("link", name="Line A", exact=True).click()
    expect(missed(page)).to_contain_text("All 2 heard so far played every note as written.")
    expect(missed(page).get_by_role("link", name="Line A", exact=True)).to_have_attribute(
        "aria-current", "true"
    )
    missed(page).get_by_text("Another section").click()
    missed(page).get_by_role("link", name="Alto sax").click()
    expect(missed(page)).to_contain_text("has been heard on line A yet")


def test_the_board_fills_a_projector_and_leads_back(page_at, director, assignment, played):
    page = page_at(WIDE, director.user)
    page.goto(overview(assignment))
    page.get_by_role("link", name="Put line B on the board").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Sidesteps, line B")
    expect(page.locator("svg.only-wide")).to_be_visible()
    page.wait_for_load_state()
    line = page.locator("svg.only-wide").bounding_box()
    assert line["width"] > 0.85 * WIDE
    assert page.evaluate("document.documentElement.scrollHeight") <= 900
    names = [row.seat.student.full_name for row in played]
    assert not any(name in page.content() for name in names)
    page.get_by_role("link", name="Back").click()
    expect(missed(page)).to_contain_text("4 of 5 played G sharp")


def test_overview_board_and_history_are_accessible(page_at, director, assignment, played, assert_accessible):
    page = page_at(WIDE, director.user)
    student = Membership.objects.get(user=played[0].seat.student)
    section = assignment.postings.get().section_id
    for path in (
        overview(assignment),
        f"{overview(assignment)}?line=A&section={section}&instrument=alto_sax",
        reverse("submissions:board", args=[assignment.pk]),
        reverse("submissions:history", args=[student.pk]),
    ):
        page.goto(path)
        assert_accessible(page)
    page.goto(overview(assignment))
    for summary in missed(page).locator("summary").all():
        summary.click()
    assert_accessible(page)
