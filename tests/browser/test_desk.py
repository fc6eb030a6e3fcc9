"""The desk in a real browser: whole on a screen, marked by keys alone, nothing lost with the connection."""

import io
import re
import wave
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.urls import reverse
from django.utils.timezone import now
from playwright.sync_api import Page, expect

from exercises.models import Exercise, ExerciseLine
from exercises.music.notation import parse_notation
from exercises.music.score import FOUR_FOUR, line_to_json
from submissions.assigning.rubrics import default_rubric
from submissions.grading.services import marks
from submissions.grading.services.phrases import add_phrase
from submissions.models import Assignment, Hearing, Listen, Mark, Phrase, Return, Take, TurnIn
from submissions.turn_ins import services as turn_ins
from tests import factories
from tests.submissions.grading.conftest import make_take, steps
from tests.submissions.grading.evidence import NOT_HEARD, evidence, late, make_hearing, other, unsure

pytestmark = pytest.mark.django_db(transaction=True)
WIDE, PHONE = 1440, 390
SECONDS = 20.0
LINES = {
    "A": ("half notes", "Bb3:2 A3 | G3 Ab3 | G3 A3 | C4 F3 | G3 F#3 | F3 G3 | A3 C4 | Bb3:4 |"),
    "B": (
        "quarter notes",
        "Bb3:1 A3 G3 A3 | G3 Ab3 A3 Ab3 | G3 F#3 G3 F3 | F3:2 F#3~ | F#3:1 F3 G3 rest | Eb3 E3 F3 Eb3 |"
        " D3 C4 A3 F3 | Bb3:4 |",
    ),
}
# the most key presses that full levels may take from opening a student to the next
MOST_PRESSES = 8


def tone() -> bytes:
    """Twenty seconds of a soft tone, as a WAV file."""
    t = np.arange(int(SECONDS * 8000)) / 8000
    sound = (np.sin(2 * np.pi * 233 * t) * 8000).astype("<i2")
    file = io.BytesIO()
    with wave.open(file, "wb") as written:
        written.setnchannels(1)
        written.setsampwidth(2)
        written.setframerate(8000)
        written.writeframes(sound.tobytes())
    return file.getvalue()


@pytest.fixture
def assignment(band, section) -> Assignment:
    exercise = Exercise.objects.create(band=band, title="Sidesteps", created_at=factories.MONDAY)
    for order, (label, (caption, text)) in enumerate(LINES.items()):
        score = line_to_json(parse_notation(text, label=label, metre=FOUR_FOUR, fifths=-2))
        ExerciseLine.objects.create(
            exercise=exercise, label=label, order=order, caption=caption, tempo_bpm=100, score=score
        )
    for kind, label in ((Phrase.Kind.WORKED, "steady"), (Phrase.Kind.NEXT_STEP, "name it first")):
        add_phrase(band=band, kind=kind, label=label, text=f"Words of {label}.")
    return factories.make_assignment(
        band=band,
        sections=[section],
        opens_at=now() - timedelta(days=4),
        due_at=now() - timedelta(hours=1),
        closes_at=now() + timedelta(days=3),
        exercise=exercise,
        rubric=default_rubric(band=band, at=factories.MONDAY),
    )


@pytest.fixture
def waiting(section, assignment) -> list[TurnIn]:
    """Ada, Bea and Cyd turned in both lines."""
    data = tone()
    name = storages["takes"].save("tone.wav", ContentFile(data))
    posting = assignment.postings.select_related("assignment").get()
    made = []
    for first in ("Ada", "Bea", "Cyd"):
        seat = factories.make_seat(
            section=section, student=factories.make_user(first_name=first, last_name=f"A{first}")
        )
        takes = {
            line: make_take(
                seat=seat,
                assignment=assignment,
                lines=(line,),
                at=now() - timedelta(hours=5),
                served=name,
                served_type="audio/wav",
                served_bytes=len(data),
                seconds=SECONDS,
                peaks=[55] * 600,
                beat_one_seconds=0.4,
            )
            for line in "AB"
        }
        made.append(turn_ins.turn_in(seat=seat, posting=posting, takes=takes, at=now() - timedelta(hours=5)))
    return made


@pytest.fixture
def thirty_others(section) -> None:
    """They sit there with nothing in."""
    for _ in range(30):
        factories.make_seat(section=section)


def address(turn_in: TurnIn) -> str:
    return reverse("submissions:desk-seat", args=[turn_in.assignment_id, turn_in.seat_id])


def hear(turn_in: TurnIn, line: str, slips: dict[int, Any], **fields: Any) -> Hearing:
    """Invented evidence for a clarinet, at the tempo of the assignment."""
    sounding = [58, 57, 55, 56, 55, 57, 60, 53, 55, 54, 53, 55, 57, 60, 58]
    starts: list[float] = [2.0 * n for n in range(15)]
    if line == "B":
        sounding, starts = [55] * 25, [float(n) for n in (*range(13), *range(14, 26))]
    heard = evidence(sounding=sounding, starts=starts, slips=slips, first_seconds=0.4, tempo=100)
    take = turn_in.counting.get(line=line).take
    return make_hearing(take=take, line=line, **({"evidence": heard} | fields))


def press(page: Page, *keys: str) -> int:
    for key in keys:
        page.keyboard.press(key)
    return len(keys)


def scale(page: Page, line: str, index: int) -> Any:
    return page.locator(f'[data-line="{line}"] [data-scale]').nth(index)


def all_saved(turn_in: TurnIn, page: Page, count: int) -> None:
    expect(page.locator("[data-said]", has_text=re.compile("^saved$"))).to_have_count(count)
    assert turn_in.marks.count() == count


def test_both_lines_stand_whole_with_their_marks_on_one_screen(page_at, director, waiting, thirty_others):
    hear(waiting[0], "A", {3: other(1, "B4"), 7: late(0.5), 12: unsure("two notes run together")})
    hear(waiting[0], "B", {5: other(1, "B4"), 19: other(-1, "F#4"), 24: NOT_HEARD})
    page = page_at(WIDE, director.user)
    page.goto(address(waiting[0]))
    boxes = page.locator("article.judge")
    expect(boxes).to_have_count(2)
    for box in (boxes.nth(0).bounding_box(), boxes.nth(1).bounding_box()):
        assert box["y"] >= 0
        assert box["y"] + box["height"] <= 900
    for part in ("svg.only-wide", ".judge__marks", ".scale >> nth=2"):
        for line in "AB":
            expect(page.locator(f'[data-line="{line}"] {part}').first).to_be_visible()
    closing = page.locator(".closing").bounding_box()
    assert closing["y"] + closing["height"] <= 900


def test_one_line_at_a_time_on_a_phone(page_at, director, waiting):
    page = page_at(PHONE, director.user)
    page.goto(address(waiting[0]))
    expect(page.locator('[data-line="A"]')).to_be_visible()
    expect(page.locator('[data-line="B"]')).to_be_hidden()
    page.get_by_role("button", name="Line B").click()
    expect(page.locator('[data-line="A"]')).to_be_hidden()
    expect(page.locator('[data-line="B"] svg.only-narrow')).to_be_visible()
    page.locator('[data-line="B"] .scale label').nth(3).click()
    all_saved(waiting[0], page, 1)


def test_full_levels_take_at_most_eight_presses_from_opening_to_the_next(page_at, director, waiting):
    ways = {
        "hear both, full, full, return": ["Space", "f", "Space", "f", "Enter"],
        "full everywhere, return": ["Shift+F", "Enter"],
        "a level for each criterion": [*"444444", "Enter"],
    }
    page = page_at(WIDE, director.user)
    page.goto(address(waiting[0]))
    roster = reverse("submissions:desk", args=[waiting[0].assignment_id])
    following = [(address(row), row.seat.student.full_name) for row in waiting[1:]] + [(roster, "Sidesteps")]
    for (way, keys), turn_in, (after, heading) in zip(ways.items(), waiting, following, strict=True):
        presses = press(page, *keys)
        page.wait_for_url(f"**{after}")
        assert presses <= MOST_PRESSES, way
        turn_in.refresh_from_db()
        assert turn_in.state == TurnIn.State.RETURNED, way
        assert list(turn_in.marks.values_list("level__value", flat=True)) == [4] * 6, way
        expect(page.get_by_text(f"Returned to {turn_in.seat.student.first_name}.")).to_be_visible()
        expect(page.locator("h1")).to_contain_text(heading)


def test_a_whole_pile_is_marked_without_touching_the_mouse(page_at, director, waiting):
    page = page_at(WIDE, director.user)
    page.goto(reverse("submissions:desk", args=[waiting[0].assignment_id]))
    press(page, "j")
    page.wait_for_url(f"**{address(waiting[0])}")
    press(page, "3", "0", "2", "4", "4", "-")
    all_saved(waiting[0], page, 6)
    press(page, "Enter")
    page.wait_for_url(f"**{address(waiting[1])}")
    press(page, "k")
    page.wait_for_url(f"**{address(waiting[0])}")
    press(page, "j")
    page.wait_for_url(f"**{address(waiting[1])}")
    press(page, "r")
    page.wait_for_url(f"**{address(waiting[2])}")
    press(page, "e")
    page.keyboard.type("in repair")
    press(page, "Enter")
    page.wait_for_url("**/desk/")
    expect(page.get_by_text("Nobody waits.").first).to_be_visible()
    states = [TurnIn.objects.get(pk=row.pk).state for row in waiting]
    assert states == ["returned", "redo", "excused"]
    marks = waiting[0].marks.order_by("line", "criterion__order")
    assert [mark.level and mark.level.value for mark in marks] == [3, None, 2, 4, 4, None]


def test_marks_are_saved_as_they_are_given_full_leaves_them_and_keys_follow_the_focus(
    page_at, director, waiting
):
    page = page_at(WIDE, director.user)
    page.goto(address(waiting[0]))
    press(page, "2")
    all_saved(waiting[0], page, 1)
    press(page, "f")
    all_saved(waiting[0], page, 3)
    assert sorted(waiting[0].marks.values_list("line", "level__value")) == [("A", 2), ("A", 4), ("A", 4)]
    expect(page.locator('[data-line="B"]')).to_have_class("judge is-now")
    expect(scale(page, "B", 0)).to_have_class("scale is-now")

    page.goto(address(waiting[1]))
    scale(page, "B", 1).locator("input[type=radio]").first.focus()
    press(page, "4", "1")
    all_saved(waiting[1], page, 2)
    assert list(waiting[1].marks.order_by("criterion__order").values_list("line", "level__value")) == [
        ("B", 4),
        ("B", 1),
    ]


def test_a_chosen_step_opens_and_says_its_meaning(page_at, director, waiting):
    page = page_at(WIDE, director.user)
    page.goto(address(waiting[0]))
    meaning = scale(page, "A", 0).locator("label", has_text="one or two slips").locator("span")
    narrow = meaning.bounding_box()["width"]
    scale(page, "A", 0).locator("label").nth(3).click()
    wait_until(page, lambda: meaning.bounding_box()["width"] > narrow * 20)


def test_keys_do_nothing_while_words_are_typed(page_at, director, waiting):
    page = page_at(WIDE, director.user)
    page.goto(address(waiting[0]))
    page.locator("#next-step").fill("")
    page.locator("#next-step").press_sequentially("4 f r e 2 j")
    expect(page.locator("[data-note-said]")).to_have_text("note kept")
    assert Mark.objects.count() == 0
    assert Return.objects.get().next_step == "4 f r e 2 j"
    press(page, "Escape", "4")
    all_saved(waiting[0], page, 1)


def test_a_lost_connection_says_so_keeps_the_mark_and_sends_it_again(page_at, director, waiting):
    page = page_at(WIDE, director.user)
    page.goto(address(waiting[0]))
    page.context.set_offline(True)
    press(page, "3", "2")
    expect(page.locator(".desk__lost")).to_contain_text("No connection. What you gave is kept")
    expect(page.locator(".desk__lost")).to_contain_text("2 things are not saved yet")
    expect(scale(page, "A", 0)).to_contain_text("not saved yet")
    expect(scale(page, "A", 0).locator("input:checked")).to_have_count(1)
    assert Mark.objects.count() == 0
    page.context.set_offline(False)
    all_saved(waiting[0], page, 2)
    expect(page.locator(".desk__lost")).to_be_hidden()


def test_leaving_the_page_sends_what_it_could_not_save(page_at, director, waiting):
    page = page_at(WIDE, director.user)
    page.route("**/mark/", lambda route: route.abort())
    page.goto(address(waiting[0]))
    press(page, "3")
    expect(scale(page, "A", 0)).to_contain_text("not saved yet")
    page.locator('.podium a[data-key="J"]').click()
    page.wait_for_url(f"**{address(waiting[1])}")
    wait_until(page, lambda: Mark.objects.count() == 1)


def test_what_one_page_could_not_save_the_next_page_sends(page_at, director, waiting):
    page = page_at(WIDE, director.user)
    page.add_init_script("navigator.sendBeacon = () => false")
    page.route("**/mark/", lambda route: route.abort())
    page.goto(address(waiting[0]))
    press(page, "3")
    expect(scale(page, "A", 0)).to_contain_text("not saved yet")
    page.reload()
    expect(scale(page, "A", 0).locator("input:checked")).to_have_count(1)
    expect(scale(page, "A", 0)).to_contain_text("not saved yet")
    assert Mark.objects.count() == 0
    page.unroute("**/mark/")
    page.goto(address(waiting[1]))
    wait_until(page, lambda: Mark.objects.count() == 1)
    assert waiting[0].marks.get().level.value == 3


def test_a_mark_changed_while_it_is_on_its_way_ends_as_the_last_one_given(page_at, director, waiting):
    page = page_at(WIDE, director.user)
    held: list[Any] = []
    page.route("**/mark/", lambda route: route.continue_() if held else held.append(route))
    page.goto(address(waiting[0]))
    for step in (1, 2, 4):
        scale(page, "A", 0).locator("label").nth(step).click()
    wait_until(page, lambda: bool(held))
    held[0].continue_()
    all_saved(waiting[0], page, 1)
    assert waiting[0].marks.get().level.value == 4


def test_a_return_that_finds_no_connection_loses_nothing(page_at, director, waiting):
    page = page_at(WIDE, director.user)
    page.goto(address(waiting[0]))
    press(page, "Shift+F")
    all_saved(waiting[0], page, 6)
    page.context.set_offline(True)
    press(page, "Enter")
    expect(page.get_by_role("alert")).to_contain_text("No connection")
    expect(page).to_have_url(re.compile(f"{address(waiting[0])}$"))
    page.context.set_offline(False)
    press(page, "Enter")
    page.wait_for_url(f"**{address(waiting[1])}")


def test_unmarked_criteria_are_asked_about_once(page_at, director, waiting):
    page = page_at(WIDE, director.user)
    page.goto(address(waiting[0]))
    press(page, "f")
    all_saved(waiting[0], page, 3)
    press(page, "Enter")
    expect(page.get_by_role("alert")).to_contain_text("in line B and 2 more have no mark yet")
    press(page, "Enter")
    page.wait_for_url(f"**{address(waiting[1])}")
    waiting[0].refresh_from_db()
    assert (waiting[0].state, waiting[0].marks.count()) == (TurnIn.State.RETURNED, 3)


def test_another_adults_mark_is_shown_and_not_overwritten(page_at, director, substitute, waiting):
    page = page_at(WIDE, director.user)
    page.goto(address(waiting[0]))
    criterion, levels = next(iter(steps(waiting[0].assignment).items()))
    marks.give_mark(
        turn_in=waiting[0],
        attempt=1,
        line="A",
        criterion=criterion,
        level=levels[1],
        by=substitute.user,
        at=now(),
    )
    press(page, "4")
    expect(page.get_by_role("alert")).to_contain_text("marked this meanwhile. Their mark is shown")
    expect(scale(page, "A", 0)).to_contain_text("changed by somebody else")
    expect(scale(page, "A", 0).locator("input:checked")).to_have_value(str(levels[1].pk))
    scale(page, "A", 0).locator("label").nth(4).click()
    all_saved(waiting[0], page, 1)
    assert waiting[0].marks.get().level == levels[3]


def test_the_note_is_kept_as_it_is_typed_with_the_directors_phrases(page_at, director, waiting):
    page = page_at(WIDE, director.user)
    page.goto(address(waiting[0]))
    page.locator("#worked").press_sequentially("Good start.")
    page.get_by_role("button", name="steady").click()
    page.locator("#look").select_option("B5")
    expect(page.locator("[data-note-said]")).to_have_text("note kept")
    page.reload()
    expect(page.locator("#worked")).to_have_value("Good start. Words of steady.")
    expect(page.locator("#look")).to_have_value("B5")
    assert Return.objects.get().returned_at is None


def audio(page: Page, line: str, what: str) -> Any:
    return page.locator(f'[data-line="{line}"] audio').evaluate(f"audio => audio.{what}")


def wait_until(page: Page, holds: Callable[[], bool]) -> None:
    for _ in range(400):
        if holds():
            return
        page.wait_for_timeout(50)
    raise AssertionError("it did not happen within twenty seconds")


def test_a_take_plays_under_its_notes_slower_with_the_pitch_kept(page_at, director, waiting):
    page = page_at(WIDE, director.user)
    page.goto(address(waiting[0]))
    assert Listen.objects.count() == 0  # opening a page is no listen
    press(page, "Space")
    wait_until(page, lambda: audio(page, "A", "currentTime") > 0.8)
    expect(page.locator('[data-line="A"] [data-play]')).to_contain_text("Pause")
    head = page.locator('[data-line="A"] svg.only-wide .shelf__head')
    expect(head).to_have_class("shelf__head")
    place = head.get_attribute("transform")
    expect(page.locator('[data-line="A"] svg.only-wide .shelf__now')).to_have_count(1)
    wait_until(page, lambda: head.get_attribute("transform") != place)
    for rate in (0.75, 0.5, 1):
        press(page, "s")
        wait_until(page, lambda rate=rate: audio(page, "A", "playbackRate") == rate)
        assert audio(page, "A", "preservesPitch")
    press(page, "b")
    wait_until(page, lambda: audio(page, "A", "paused") and not audio(page, "B", "paused"))
    press(page, "Space")
    wait_until(page, lambda: audio(page, "B", "paused"))
    assert set(Listen.objects.values_list("listener", flat=True)) == {director.user.pk}


def test_jumps_go_by_note_and_by_bar(page_at, director, waiting):
    page = page_at(WIDE, director.user)
    page.goto(address(waiting[0]))
    beat = 60 / 100

    def lead_to(beats: int, *keys: str) -> None:
        press(page, *keys)
        there = pytest.approx(0.4 + beats * beat, abs=0.001)
        wait_until(page, lambda: audio(page, "A", "currentTime") == there)

    lead_to(2, "ArrowRight", "ArrowRight")
    lead_to(0, "ArrowLeft")
    lead_to(8, "Shift+ArrowRight", "Shift+ArrowRight")
    lead_to(4, "Shift+ArrowLeft")
    lead_to(6, ".")
    lead_to(4, ",")
    page.locator('[data-line="A"] svg.only-wide .shelf__hit[data-note="10"]').click()
    wait_until(page, lambda: audio(page, "A", "currentTime") > 0.4 + 20 * beat)
    assert not audio(page, "A", "paused")


def test_the_ear_overrules_a_note_by_key_and_takes_it_back(page_at, director, waiting):
    hearing = hear(waiting[0], "A", {3: other(1, "B4"), 12: unsure("two notes run together")})
    page = page_at(WIDE, director.user)
    page.goto(address(waiting[0]))
    words = page.locator('[data-line="A"] [data-now]')
    expect(words).to_contain_text("Bar 7, beat 1. Written B, unsure, please listen")
    press(page, "u")
    expect(words).to_contain_text("Bar 2, beat 3. Written B♭, heard B, one half step high.")
    press(page, "w")
    expect(words).to_contain_text("Your ear: as written.")
    expect(page.locator('[data-line="A"] svg.only-wide .shelf__was')).to_have_count(1)
    hearing.refresh_from_db()
    assert hearing.overruled == {"A": {"3": "as_written"}}
    press(page, "w")
    expect(page.locator('[data-line="A"] svg.only-wide .shelf__was')).to_have_count(0)
    press(page, "u", "n")
    expect(words).to_contain_text("Your ear: not heard.")
    wait_until(page, lambda: Hearing.objects.get(pk=hearing.pk).overruled == {"A": {"12": "not_heard"}})


def test_evidence_fills_in_when_it_comes(page_at, director, waiting):
    hearing = hear(waiting[0], "A", {3: other(1, "B4")}, state=Hearing.State.RUNNING)
    page = page_at(WIDE, director.user)
    page.goto(address(waiting[0]))
    expect(page.locator('[data-line="A"] .judge__words')).to_contain_text("Listening")
    press(page, "3")
    Hearing.objects.filter(pk=hearing.pk).update(state=Hearing.State.DONE)
    expect(page.locator('[data-line="A"] svg.only-wide .shelf__heard--off')).to_have_count(1, timeout=10_000)
    expect(scale(page, "A", 0).locator("input:checked")).to_have_count(1)
    expect(page.locator('[data-line="A"] [data-now]')).to_contain_text("heard B")


def test_the_keys_are_listed_and_the_band_is_one_tab_stop_with_arrow_keys(
    page_at, director, waiting, thirty_others
):
    page = page_at(WIDE, director.user)
    page.goto(address(waiting[0]))
    press(page, "?")
    expect(page.get_by_role("dialog")).to_be_visible()
    keys = page.get_by_role("dialog").locator("dt").all_inner_texts()
    assert {"Space", "B", "S", "F", "1–4, 0", "U", "W P N", "Enter", "R", "E", "J", "V", "I", "G"} <= set(
        keys
    )
    press(page, "Escape")
    expect(page.get_by_role("dialog")).to_have_count(0)

    expect(page.locator("svg.band a.seat")).to_have_count(33)
    stop = page.locator('svg.band a.seat[tabindex="0"]')
    expect(stop).to_have_count(1)
    stop.focus()
    press(page, "ArrowRight")
    expect(page.locator("svg.band a:focus")).to_have_attribute(
        "aria-label", re.compile("^Bea ABea, B♭ clarinet: waiting to be marked")
    )
    press(page, "Enter")
    page.wait_for_url(f"**{address(waiting[1])}")


def test_without_script_it_is_a_plain_form(browser, live_server, page_at, director, waiting):
    signed = page_at(WIDE, director.user)
    context = browser.new_context(
        base_url=live_server.url, java_script_enabled=False, storage_state=signed.context.storage_state()
    )
    page = context.new_page()
    page.goto(address(waiting[0]))
    for line in "AB":
        for index in range(3):
            scale(page, line, index).locator("input[type=radio]").nth(3).check()
    page.locator("#worked").fill("Steady.")
    with page.expect_navigation():
        page.get_by_role("button", name="Keep and stay").click()
    expect(page.locator("#worked")).to_have_value("Steady.")
    assert waiting[0].marks.count() == 6
    expect(page.locator("audio[controls]")).to_have_count(2)
    page.get_by_role("button", name="Return and open next").click()
    page.wait_for_url(f"**{address(waiting[1])}")
    assert Take.objects.count() == 6
    context.close()


def test_the_desk_is_accessible(page_at, director, waiting, thirty_others, assert_accessible):
    hear(waiting[0], "A", {3: other(1, "B4"), 7: late(0.5), 12: unsure()})
    hear(waiting[0], "B", {}, state=Hearing.State.QUEUED, evidence=None)
    turn_ins.ask_again(turn_in=waiting[1], attempt=1, by=director.user, at=now())
    turn_ins.excuse(
        seat=waiting[2].seat,
        posting=waiting[2].posting,
        reason="in repair",
        by=director.user,
        at=now(),
    )
    page = page_at(WIDE, director.user)
    roster = reverse("submissions:desk", args=[waiting[0].assignment_id])
    for path in (
        roster,
        f"{roster}?view=list",
        f"{roster}?state=redo&view=list&order=ear",
        *(address(row) for row in waiting),
        reverse("submissions:phrases"),
    ):
        page.goto(path)
        assert_accessible(page)
    page.goto(address(waiting[0]))
    page.locator('[data-line="A"] [data-notes] summary').click()
    page.keyboard.press("Enter")
    page.locator('[data-line="A"] .scale label').nth(2).click()
    all_saved(waiting[0], page, 1)
    assert_accessible(page)
