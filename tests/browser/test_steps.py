"""The steps before a take, in a real browser: taps and keys on the pegs, what sounds when, the beat."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils.timezone import now
from playwright.sync_api import Page, expect

from bandroom.people.models import Band, Seat, Section
from exercises.models import ExerciseLine
from submissions.models import Assignment, Step, StepDone
from tests import factories
from tests.browser.conftest import PHONE, WIDE, PageAt

pytestmark = pytest.mark.django_db(transaction=True)

#: Written for alto sax, in G major: G F♯ | F♮ F♮ | F♯ A.
CAREFUL = [["Bb3", "A3"], ["Ab3", "Ab3"], ["A3", "C4"]]


@pytest.fixture
def assignment(band: Band, section: Section) -> Assignment:
    found = factories.make_assignment(band=band, sections=[section], opens_at=now() - timedelta(days=1))
    line = found.exercise.lines.get(label="A")
    bars = [[{"pitch": pitch, "beats": "2"} for pitch in bar] for bar in CAREFUL]
    ExerciseLine.objects.filter(pk=line.pk).update(score=line.score | {"bars": bars})
    return found


@pytest.fixture
def sax(section: Section) -> Seat:
    return factories.make_seat(section=section, instrument="alto_sax")


def test_a_tapped_peg_answers_at_once_and_is_kept(page_at: PageAt, sax: Seat, assignment: Assignment):
    page = page_at(PHONE, sax.student)
    page.goto(f"/work/{assignment.pk}/steps/signs/")
    page.get_by_role("button", name="Bar 1, beat 3, F on the page").click()
    expect(page.get_by_role("heading", name="This one is F sharp")).to_be_visible()
    expect(page.get_by_role("button", name="Bar 1, beat 3, F on the page")).to_have_attribute(
        "aria-pressed", "true"
    )
    thread = page.locator('[data-thread="1"]:visible')
    expect(thread).to_have_count(1)  # from the sharp of the key signature
    page.get_by_role("button", name="Bar 1, beat 1, G on the page").click()
    expect(page.get_by_role("heading", name="Not this one")).to_be_visible()
    expect(thread).to_have_count(0)
    expect(page.get_by_text("1 found. 3 to go.")).to_be_visible()
    expect(page.locator("[data-step-page]")).to_have_attribute("data-kept", "2")
    assert StepDone.objects.get().detail["A"]["tapped"] == [0, 1]


def test_pegs_are_played_by_keys_alone_and_one_can_be_shown(
    page_at: PageAt, sax: Seat, assignment: Assignment
):
    page = page_at(WIDE, sax.student)
    page.goto(f"/work/{assignment.pk}/steps/signs/")
    expect(page.get_by_role("button", name="Show me one")).to_be_visible()
    page.locator(".peg:visible").first.focus()
    for key in ("ArrowRight", "Enter", "ArrowRight", " ", "End", "Home", "ArrowRight"):
        page.keyboard.press(key)
    expect(page.get_by_text("2 found. 2 to go.")).to_be_visible()
    page.get_by_role("button", name="Show me one").click()
    expect(page.get_by_role("heading", name="Here is one: F natural")).to_be_visible()
    expect(page.locator("[data-step-page]")).to_have_attribute("data-kept", "3")
    assert StepDone.objects.get().detail["A"] == {"tapped": [1, 2], "shown": [3], "whole": False}


PLAN = """async ([line, settings]) => {
  const src = document.querySelector('script[src*="steps/beat"]').src.replace("beat.js", "plan.js");
  return (await import(src)).planPass(line, settings);
}"""


def planned(page: Page, line: dict[str, object], **settings: object) -> dict[str, list[dict[str, float]]]:
    found: dict[str, list[dict[str, float]]] = page.evaluate(PLAN, [line, settings])
    return found


def test_what_sounds_is_planned_to_the_beat(page_at: PageAt, sax: Seat, assignment: Assignment):
    """Worked by hand at 60 beats a minute: four counts, then a half note every two seconds.

    Sounding pitch of alto sax is concert pitch: B flat 3 is MIDI 58, 233.08 Hz in any table on A = 440 Hz.
    """
    page = page_at(PHONE, sax.student)
    page.goto(f"/work/{assignment.pk}/steps/play/")
    line = page.evaluate("() => JSON.parse(document.getElementById('page-data').textContent)")
    plan = planned(page, line, tempo=60, **{"from": 1, "to": 3})
    assert plan["seconds"] == 16
    assert [click["at"] for click in plan["clicks"]] == list(range(16))
    assert [click["accent"] for click in plan["clicks"]] == [True, False, False, False] * 4
    assert [tone["at"] for tone in plan["tones"]] == [4, 6, 8, 10, 12, 14]
    assert plan["tones"][0]["hz"] == pytest.approx(233.08, abs=0.01)
    assert [light["word"] for light in plan["lights"][:4]] == ["1", "2", "ready", "play"]
    assert [light["note"] for light in plan["lights"][4:]] == [0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5]
    loop = planned(page, line, tempo=120, clicks=False, **{"from": 2, "to": 2})
    assert loop["seconds"] == 4
    assert [tone["at"] for tone in loop["tones"]] == [2, 3]
    assert [click["at"] for click in loop["clicks"]] == [0, 0.5, 1, 1.5], "the count-off is always heard"


#: The player on a clock that is stepped by hand: what it started, what it lit, and when that was.
PLAYED = """async ([line, settings, frame, tick]) => {
  const src = document.querySelector('script[src*="steps/beat"]').src;
  const { planPass } = await import(src.replace("beat.js", "plan.js"));
  const { LinePlayer } = await import(src.replace("beat.js", "line_player.js"));
  const [sounds, lights, latency] = [[], [], 0.02];
  let [now, onFrame, onTick, ticked, ended, passes] = [0, null, null, 0, false, 0];
  const node = () => new Proxy(() => {}, {
    get: (_, name) => (name === "start" ? (at) => sounds.push(at - now) : node()),
    set: () => true,
    apply: () => node(),
  });
  const context = {
    get currentTime() { return now; }, outputLatency: latency, destination: node(),
    createGain: node, createOscillator: node, createPeriodicWave: node,
  };
  const { requestAnimationFrame, setInterval } = window;
  window.requestAnimationFrame = (next) => { onFrame = next; };
  window.setInterval = (next) => { onTick = next; };
  const player = new LinePlayer(context, {
    kind: "reed",
    onLight: (light) => lights.push(now - latency - light.at),
    onEnd: () => { ended = true; },
  });
  player.start(() => (passes++ ? null : planPass(line, settings)));
  while (!ended && now < 120) {
    now += frame;
    if (now - ticked >= tick) { ticked = now; onTick(); }
    const next = onFrame;
    onFrame = null;
    next?.();
  }
  Object.assign(window, { requestAnimationFrame, setInterval });
  return { sounds, lights };
}"""


#: Notes the pitch of whatever sounds on the page itself.
LISTENS = """window.heard = [];
const { start } = OscillatorNode.prototype;
OscillatorNode.prototype.start = function (at) {
  window.heard.push(this.frequency.value);
  return start.call(this, at);
};"""


def test_no_beat_is_late_the_light_is_in_step_and_the_first_note_sounds_alone(
    page_at: PageAt, sax: Seat, assignment: Assignment
):
    """The light follows what is heard within 30 ms; a timer that comes late makes no sound late."""
    page = page_at(PHONE, sax.student)
    page.add_init_script(LISTENS)
    page.goto(f"/work/{assignment.pk}/steps/play/")
    page.get_by_role("button", name="Hear first note").click()
    page.wait_for_function("window.heard.length === 1")
    assert page.evaluate("window.heard[0]") == pytest.approx(233.08, abs=0.01)  # B flat 3, on A = 440 Hz
    line = page.evaluate("() => JSON.parse(document.getElementById('page-data').textContent)")
    for tempo in (40, 120):
        settings = {"tempo": tempo, "from": 1, "to": 3}
        plan = planned(page, line, **settings)
        for tick in (0.025, 0.12):
            played = page.evaluate(PLAYED, [line, settings, 1 / 60, tick])
            assert len(played["sounds"]) == len(plan["clicks"]) + len(plan["tones"])
            assert min(played["sounds"]) >= 0
            assert len(played["lights"]) == len(plan["lights"])
            assert max(map(abs, played["lights"])) <= 0.030


def test_a_line_played_to_its_end_is_noted_with_its_tempo(page_at: PageAt, sax: Seat, assignment: Assignment):
    page = page_at(PHONE, sax.student)
    page.goto(f"/work/{assignment.pk}/steps/play/")
    page.get_by_text("My tempo, clicks, and bars to repeat").click()
    page.get_by_label("My tempo").fill("120")
    page.get_by_role("button", name="Play along").click()
    expect(page.locator(".note-light.is-on:visible")).to_have_attribute("data-light", "0", timeout=10_000)
    expect(page.get_by_text("G, bar 1, beat 1")).to_be_visible()
    expect(page.get_by_text("Line A is done, at 120 beats a minute.")).to_be_visible(timeout=20_000)
    expect(page.get_by_role("button", name="Play along")).to_be_visible()
    row = StepDone.objects.get()
    assert (row.step, row.detail) == (Step.PLAY, {"A": {"tempo": 120, "whole": True}})


def test_names_and_counts_can_be_hidden(page_at: PageAt, sax: Seat, assignment: Assignment):
    page = page_at(WIDE, sax.student)
    page.goto(f"/work/{assignment.pk}/steps/names/")
    name = page.locator(".names text:visible").first
    page.get_by_role("button", name="Names", exact=True).click()
    expect(page.get_by_role("button", name="Names", exact=True)).to_have_attribute("aria-pressed", "false")
    expect(page.locator(".only-wide .names text:not(.names__count)").first).to_be_hidden()
    page.get_by_role("button", name="Names", exact=True).click()
    expect(name).to_be_visible()


def test_every_step_is_accessible(
    page_at: PageAt, sax: Seat, assignment: Assignment, assert_accessible: Callable[[Page], None]
):
    page = page_at(PHONE, sax.student)
    for step in Step:
        page.goto(f"/work/{assignment.pk}/steps/{step}/")
        assert_accessible(page)
    page.goto(f"/work/{assignment.pk}/steps/signs/")
    page.get_by_role("button", name="Bar 1, beat 3, F on the page").click()
    page.locator("#stuck summary").wait_for()
    assert_accessible(page)
    page.get_by_role("button", name="Line A, bar 2").click()
    expect(page.get_by_text("You are stuck at line A, bar 2.")).to_be_visible()
    assert_accessible(page)


def test_every_step_opens_and_is_done_without_script(page_at: PageAt, sax: Seat, assignment: Assignment):
    page = page_at(PHONE, sax.student, java_script_enabled=False)

    def press(name: str) -> None:
        with page.expect_navigation():
            page.get_by_role("button", name=name).click()

    for step in Step:
        page.goto(f"/work/{assignment.pk}/steps/{step}/")
        if step is Step.READY:
            page.get_by_label("Wet your reed.").check()
            press("Keep my ticks")
        elif step is Step.SIGNS:
            page.get_by_label("Beat 3: F").first.check()
            press("Check these")
            expect(page.get_by_text("Bar 1, beat 3: F sharp.")).to_be_visible()
        else:
            press("this line")
            expect(page.get_by_text("Line A is done")).to_be_visible()
        assert StepDone.objects.latest("pk").step == step
    assert StepDone.objects.count() == len(Step)
