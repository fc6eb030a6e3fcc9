"""A director posts an exercise by keyboard; every page of assigning is accessible at both widths."""

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from bandroom.people.models import Role
from submissions.assigning.rubrics import default_rubric
from submissions.models import Assignment, Rubric, Stuck
from tests import factories
from tests.browser.conftest import PHONE, WIDE
from tests.browser.screens import resize
from tests.submissions.assigning.rows import make_turn_in

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def posted(band, at):
    """A band of two periods with one assignment that has work in it."""
    sections = [
        factories.make_section(band=band, name=name, period=period)
        for name, period in (("Flutes", "2"), ("Clarinets", "2"), ("Horns", "5"), ("Jazz", ""))
    ]
    rubric = default_rubric(band=band, at=at)
    assignment = factories.make_assignment(band=band, sections=sections[:3], rubric=rubric)
    for section in sections:
        factories.make_seat(section=section)
    seat = factories.make_seat(section=sections[0], instrument="flute")
    make_turn_in(seat=seat, assignment=assignment)
    Stuck.objects.create(seat=seat, assignment=assignment, line="B", bar=2, at=factories.MONDAY)
    return assignment


@pytest.fixture
def pages(posted):
    return [
        reverse("submissions:week") + "?monday=2026-10-05",
        reverse("submissions:assignments"),
        reverse("submissions:post"),
        f"{reverse('submissions:post')}?exercise={posted.exercise_id}",
        reverse("submissions:edit", args=[posted.pk]),
        reverse("submissions:rubrics"),
        reverse("submissions:rubric-new"),
        reverse("submissions:rubric-edit", args=[posted.rubric_id]),
        reverse("submissions:policy"),
    ]


def test_every_page_is_accessible(page_at, director, pages, assert_accessible):
    page = page_at(WIDE, director.user)
    for address in pages:
        page.goto(address)
        if page.locator("#preview").count():
            expect(page.locator("#preview svg").first).to_be_visible(timeout=20_000)
        assert_accessible(page)


def test_a_form_with_something_wrong_is_accessible_and_has_the_focus_on_what(
    page_at, director, posted, assert_accessible
):
    page = page_at(PHONE, director.user)
    page.goto(f"{reverse('submissions:post')}?exercise={posted.exercise_id}")
    page.get_by_role("button", name="Post it").click()
    expect(page.locator(".wrong")).to_be_focused()
    expect(page.locator(".wrong")).to_contain_text("Choose at least one section to post to.")
    assert_accessible(page)


def test_an_exercise_is_posted_by_keyboard_alone(page_at, director, posted):
    page = page_at(WIDE, director.user)
    page.goto(f"{reverse('submissions:post')}?exercise={posted.exercise_id}")
    page.get_by_role("button", name="All of it").first.focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("checkbox", name="Clarinets")).to_be_checked()
    expect(page.get_by_role("checkbox", name="Horns")).not_to_be_checked()
    page.get_by_label("Note to students").focus()
    page.keyboard.type("Mind bar 2.")
    page.get_by_role("button", name="Post it").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="This week in band")).to_be_visible()
    assignment = Assignment.objects.exclude(pk=posted.pk).get()
    assert [posting.section.name for posting in assignment.postings.all()] == ["Clarinets", "Flutes"]
    assert assignment.note == "Mind bar 2."


def test_the_preview_follows_the_form(page_at, director, posted):
    page = page_at(WIDE, director.user)
    page.goto(f"{reverse('submissions:post')}?exercise={posted.exercise_id}")
    expect(page.get_by_role("img", name="Line A for Flute")).to_be_visible(timeout=20_000)
    page.get_by_label("Player").select_option("horn")
    expect(page.get_by_role("img", name="Line A for Horn")).to_be_visible(timeout=20_000)
    page.get_by_role("checkbox", name="Line A").uncheck()
    expect(page.get_by_role("img", name="Line A for Horn")).not_to_be_visible(timeout=20_000)
    expect(page.get_by_role("img", name="Line B for Horn")).to_be_visible()


def test_the_first_steps_stand_side_by_side(page_at, director, posted):
    page = page_at(WIDE, director.user)
    page.goto(f"{reverse('submissions:post')}?exercise={posted.exercise_id}")
    boxes = page.locator("#div_id_first_steps .check")
    tops = "(boxes) => boxes.map((box) => Math.round(box.getBoundingClientRect().top))"
    assert len(set(boxes.evaluate_all(tops))) == 1, "one row of five"
    resize(page, PHONE)
    assert len(set(boxes.evaluate_all(tops))) == 3, "two and two and one"


def test_own_times_are_shown_for_the_ticked_sections_only(page_at, director, posted):
    page = page_at(WIDE, director.user)
    page.goto(f"{reverse('submissions:post')}?exercise={posted.exercise_id}")
    page.get_by_text("Other times for some sections").click()
    expect(page.get_by_role("group", name="Horns, period 5")).not_to_be_visible()
    page.get_by_role("checkbox", name="Horns").check()
    expect(page.get_by_role("group", name="Horns, period 5")).to_be_visible()


def test_withdrawing_asks_first(page_at, director, posted):
    page = page_at(WIDE, director.user)
    page.goto(reverse("submissions:edit", args=[posted.pk]))
    page.get_by_role("button", name="Withdraw").click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("Turn-ins and marks are kept")
    dialog.get_by_role("button", name="Withdraw").click()
    expect(page.get_by_text("is withdrawn: students no longer see it")).to_be_visible()
    posted.refresh_from_db()
    assert posted.withdrawn_at is not None


def test_a_rubric_grows_by_a_level_and_a_criterion(page_at, director):
    page = page_at(WIDE, director.user)
    page.goto(reverse("submissions:rubric-new"))
    page.get_by_label("Name of the rubric").fill("Five levels")
    page.get_by_role("button", name="One more level").first.click()
    expect(page.locator("#id_level-0-5")).to_be_focused()
    page.keyboard.type("beyond the page")
    page.get_by_role("button", name="One more thing to judge").click()
    expect(page.locator("#id_criterion-3")).to_be_focused()
    page.keyboard.type("Posture")
    page.locator("#id_level-3-1").fill("slumped")
    page.locator("#id_level-3-2").fill("tall")
    page.get_by_role("button", name="Save the rubric").click()
    expect(page.get_by_text("is ready for the next assignment")).to_be_visible()
    rubric = Rubric.objects.get(name="Five levels")
    assert [(c.name, c.levels.count()) for c in rubric.criteria.all()] == [
        ("Right notes", 5),
        ("Steady rhythm", 4),
        ("Tone and start of notes", 4),
        ("Posture", 2),
    ]


def test_a_substitute_meets_no_way_to_post(page_at, band, posted):
    page = page_at(WIDE, factories.make_staff(band=band, role=Role.SUBSTITUTE).user)
    page.goto(f"{reverse('submissions:week')}?monday=2026-10-05")
    expect(page.get_by_role("link", name="No. 1, Stepping Stones").first).to_be_visible()
    expect(page.get_by_role("link", name="New assignment")).to_have_count(0)
