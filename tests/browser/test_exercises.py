"""Exercises in a real browser: notes drawn while they are typed, the way to a fault, every page by axe."""

import re
from collections.abc import Callable

import pytest
from django.core.cache import caches
from django.utils.timezone import now
from playwright.sync_api import Page, expect

from bandroom.people.models import Band, Membership, Section
from exercises.models import Exercise, PartChoice, SeatRange
from tests import factories

pytestmark = [pytest.mark.django_db(transaction=True)]
type PageAt = Callable[..., Page]


@pytest.fixture(autouse=True)
def _empty_store() -> None:
    caches["engravings"].clear()


@pytest.fixture
def director(band: Band) -> Membership:
    return factories.make_staff(band=band)


@pytest.fixture
def exercise(band: Band) -> Exercise:
    return factories.make_exercise(band=band)


def test_notes_are_drawn_while_they_are_typed_and_a_fault_is_found(
    page_at: PageAt, director: Membership
) -> None:
    page = page_at(1440, director.user)
    page.goto("/exercises/new/")
    notes = page.get_by_label("Line A, notes")
    notes.fill("Bb3:2 C4 | D4 Bb3")
    drawn = page.locator("#looked-A")
    expect(drawn.get_by_role("img", name="Line A for B♭ clarinet")).to_be_visible()

    page.get_by_label("Show it as this player reads it").select_option("tuba")
    expect(drawn.get_by_role("img", name="Line A for Tuba")).to_be_visible()

    notes.fill("Bb3:2 C4 |\nD4 X9")
    expect(drawn.locator("mark")).to_have_text("X9")
    expect(drawn).to_contain_text("“X9” is not a note")
    drawn.get_by_role("button", name="Go to it").click()
    page.wait_for_function(
        "(words) => { const box = document.activeElement;"
        " return box.value?.slice(box.selectionStart, box.selectionEnd) === words; }",
        arg="X9",
    )
    page.keyboard.type("Bb3")
    expect(drawn.get_by_role("img", name="Line A for Tuba")).to_be_visible()
    expect(page.get_by_role("button", name="Show the notes")).to_be_hidden()


def test_an_exercise_is_written_with_the_keyboard_alone(
    page_at: PageAt, director: Membership, band: Band
) -> None:
    page = page_at(1440, director.user)
    page.goto("/exercises/new/")
    page.get_by_label("Title").focus()
    page.keyboard.type("By keys")
    for _ in range(4):  # metre, key, written for, player
        page.keyboard.press("Tab")
    page.keyboard.press("Tab")  # how to type notes
    page.keyboard.press("Tab")
    page.keyboard.type("Bb3:4")
    page.get_by_role("button", name="Save the exercise").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="By keys, all parts")).to_be_visible()
    assert Exercise.objects.get().title == "By keys"


def test_typed_notes_are_not_lost_by_a_stray_link(page_at: PageAt, director: Membership) -> None:
    page = page_at(1440, director.user)
    page.goto("/exercises/new/")
    page.get_by_label("Line A, notes").press_sequentially("Bb3:4")
    asked: list[str] = []

    def stay(dialog: object) -> None:
        asked.append(dialog.type)
        dialog.dismiss()

    page.on("dialog", stay)
    with page.expect_event("dialog"):
        page.get_by_role("link", name="build it from a pattern").click()
    assert asked == ["beforeunload"]
    expect(page).to_have_url(re.compile("/exercises/new/$"))
    expect(page.get_by_label("Line A, notes")).to_have_value("Bb3:4")


def test_a_lost_connection_is_said_and_typing_goes_on(page_at: PageAt, director: Membership) -> None:
    page = page_at(1440, director.user)
    page.goto("/exercises/new/")
    page.context.set_offline(True)
    page.get_by_label("Line A, notes").press_sequentially("Bb3:4")
    expect(page.locator("#say")).to_contain_text("No connection right now")
    page.context.set_offline(False)
    page.get_by_label("Line A, notes").press_sequentially(" | C4")
    expect(page.locator("#looked-A").get_by_role("img")).to_be_visible()


def test_a_pattern_is_drawn_as_it_is_chosen(page_at: PageAt, director: Membership) -> None:
    page = page_at(390, director.user)
    page.goto("/exercises/new/pattern/")
    page.get_by_label("long tones").check()
    drawn = page.locator("#looked-A")
    expect(drawn.get_by_role("img")).to_be_visible()
    page.get_by_role("button", name="Go on with these lines").click()
    expect(page.get_by_label("Title")).to_have_value("Long tones in B♭")


def test_without_a_script_the_notes_are_shown_by_a_button(page_at: PageAt, director: Membership) -> None:
    page = page_at(1440, director.user, java_script_enabled=False)
    page.goto("/exercises/new/")
    page.get_by_label("Line A, notes").fill("Bb3:2 C4")
    page.get_by_role("button", name="Show the notes").click()
    expect(page.locator("#looked-A svg.only-wide")).to_be_visible()


def test_bars_of_the_wall_stand_under_each_other(
    page_at: PageAt, director: Membership, exercise: Exercise
) -> None:
    page = page_at(1440, director.user)
    page.goto(f"/exercises/{exercise.pk}/")
    page.wait_for_function("document.querySelectorAll('.part__line .barLine').length === 34")
    ends = page.evaluate(
        "[...document.querySelectorAll('.part__line')].map(line =>"
        " [...line.querySelectorAll('.barLine')].map(bar => Math.round(bar.getBoundingClientRect().right)))"
    )
    assert len(ends) == 17
    assert len({tuple(row) for row in ends}) == 1
    assert len(ends[0]) == 2


def test_every_page_is_accessible(
    page_at: PageAt,
    director: Membership,
    exercise: Exercise,
    section: Section,
    assert_accessible: Callable[[Page], None],
) -> None:
    seat = factories.make_seat(section=section, instrument="trumpet")
    own = {"low": "C4", "easy_low": "C4", "easy_high": "D4", "high": "D4"}
    SeatRange.objects.create(seat=seat, changed_at=now(), **own)
    PartChoice.objects.create(exercise=exercise, instrument="trumpet", octave=2, left_out={"A": [0]})
    page = page_at(1440, director.user)
    part = f"/exercises/{exercise.pk}/parts/trumpet/"
    for address in (
        "/exercises/",
        "/exercises/?away",
        "/exercises/new/",
        "/exercises/new/pattern/",
        f"/exercises/{exercise.pk}/edit/",
        f"/exercises/{exercise.pk}/",
        f"/exercises/{exercise.pk}/?line=B&all",
        part,
        f"{part}?names",
        f"/exercises/{exercise.pk}/print/",
        "/exercises/ranges/",
        f"/exercises/ranges/seats/{seat.pk}/",
        "/fingerings/",
        "/fingerings/alto_sax/",
        "/fingerings/trombone/",
        "/fingerings/clarinet/66/",
        "/fingerings/clarinet/66/?row=own",
    ):
        page.goto(address)
        page.evaluate("for (const fold of document.querySelectorAll('details')) fold.open = true")
        assert_accessible(page)


def test_pages_with_something_wrong_are_accessible(
    page_at: PageAt, director: Membership, assert_accessible: Callable[[Page], None]
) -> None:
    page = page_at(1440, director.user)
    page.goto("/exercises/new/")
    page.get_by_label("Line A, notes").fill("Bb3:2 H4")
    page.get_by_role("button", name="Save the exercise").click()
    expect(page.get_by_text("Please look again.")).to_be_visible()
    page.wait_for_load_state()
    assert_accessible(page)
    page.get_by_text("Bring in a file", exact=True).click()
    page.get_by_label("Music file").set_input_files(
        {"name": "notes.mxl", "mimeType": "application/octet-stream", "buffer": b"only words"}
    )
    page.get_by_role("button", name="Read the file").click()
    expect(page.locator("#file-problem")).to_be_visible()
    expect(page.get_by_label("Line A, notes")).to_have_value("Bb3:2 H4")
    assert_accessible(page)
    page.get_by_label("Music file").set_input_files(
        {
            "name": "two.abc",
            "mimeType": "text/plain",
            "buffer": b"X:1\nT:Two bars\nM:4/4\nL:1/4\nK:Bb\nB,2 C2 | D2 B,2 |]\n",
        }
    )
    page.get_by_role("button", name="Read the file").click()
    expect(page.get_by_role("heading", name="What the file brought")).to_be_visible()
    assert_accessible(page)


def test_a_director_decides_on_the_wall(page_at: PageAt, director: Membership, exercise: Exercise) -> None:
    PartChoice.objects.create(exercise=exercise, instrument="trumpet", octave=2)
    page = page_at(1440, director.user)
    page.goto(f"/exercises/{exercise.pk}/")
    first = page.locator(".part").first
    expect(first).to_contain_text("Trumpet")
    first.get_by_role("button", name="Octave down").click()
    expect(page.get_by_text("Trumpet: moved one octave down.")).to_be_visible()
    assert PartChoice.objects.get().octave == 1


def test_a_note_is_chosen_by_keys_and_says_why_it_sounds_so(
    page_at: PageAt, director: Membership, exercise: Exercise
) -> None:
    """Concert A, A flat in two flats: an alto's F sharp by its key, then F natural by its sign."""
    exercise.lines.filter(label="A").update(
        score={
            **exercise.lines.get(label="A").score,
            "bars": [[{"pitch": "A3", "beats": "2"}, {"pitch": "Ab3", "beats": "2"}]],
        }
    )
    page = page_at(1440, director.user)
    page.goto(f"/exercises/{exercise.pk}/parts/alto_sax/")
    line = page.locator(".engraved[data-reading]").first
    expect(line).to_contain_text("Choose a note to see why it sounds as it does.")
    expect(line.locator("[data-thread]:visible")).to_have_count(0)
    line.locator(".spot:visible").first.focus()
    page.keyboard.press("Enter")
    expect(line).to_contain_text("Bar 1, beat 1: F sharp. F is sharp because of the key signature.")
    expect(line.locator('[data-thread="0"]:visible')).to_have_count(1)
    page.keyboard.press("ArrowRight")
    page.keyboard.press(" ")
    expect(line).to_contain_text("Bar 1, beat 3: F natural. The natural in front of it")
    expect(page.locator("#say")).to_contain_text("It overrules the sharp in the key signature")
    expect(line.locator("[data-thread]:visible")).to_have_count(1)
    expect(line.get_by_role("button", name="Bar 1, beat 3")).to_have_attribute("aria-pressed", "true")


def test_a_fingering_is_confirmed_after_a_question(page_at: PageAt, director: Membership, band: Band) -> None:
    page = page_at(390, director.user)
    page.goto("/fingerings/bassoon/")
    page.get_by_role("button", name="Yes to all that wait").click()
    page.get_by_role("dialog").get_by_role("button", name="Yes to all", exact=True).click()
    expect(page.get_by_text("fingerings confirmed.")).to_be_visible()
    expect(page.get_by_text("Nothing waits.")).to_be_visible()
