"""The recorder in a real browser: whatever ends a recording, what was played is kept and the page says so."""

import base64
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from numpy.typing import NDArray
from playwright.sync_api import Page, expect

from bandroom.people.models import Seat
from submissions.models import Assignment
from submissions.preparing.findings import Limits
from submissions.preparing.prepare import prepare
from submissions.working.views import work
from tests.browser.conftest import PHONE, PageAt
from tests.browser.microphone import FILL, LOUDSPEAKER_IS_HEARD, SIMULATED, STORE

pytestmark = pytest.mark.django_db(transaction=True)
KEPT = "What you played up to then is kept."
PATIENCE = 20_000


@pytest.fixture
def recorder(page_at: PageAt, seat: Seat, assignment: Assignment) -> Callable[..., Page]:
    def opened(labels: str = "A", *, scripts: tuple[str, ...] = (SIMULATED,)) -> Page:
        page = page_at(PHONE, seat.student)
        for script in scripts:
            page.add_init_script(script)
        page.goto(f"/work/{assignment.pk}/record/{labels}/")
        page.evaluate(STORE)
        expect(page.get_by_role("button", name="Start", exact=True)).to_be_enabled()
        return page

    return opened


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def is_recording(page: Page, *, seconds: int = 1) -> None:
    """Until the page tells of so many seconds."""
    page.locator("[data-recorder][data-state=recording]").wait_for(timeout=PATIENCE)
    page.wait_for_function(
        "(least) => Number(document.querySelector('[data-recorder]').dataset.seconds) >= least",
        arg=seconds,
        timeout=PATIENCE,
    )


def kept(page: Page, user: int) -> list[dict[str, Any]]:
    return page.evaluate("(user) => store.takesOf(user)", user)


def says(page: Page, sentence: str) -> None:
    expect(page.locator("[data-trouble]")).to_have_text(sentence, timeout=PATIENCE)


def becomes_true(page: Page, script: str) -> None:
    page.wait_for_function(script, timeout=PATIENCE)


def listens_back(page: Page) -> None:
    expect(page.get_by_role("heading", level=1)).to_have_text("Listen back", timeout=PATIENCE)


# How a phone ends a recording, and what the page says of it.
ENDINGS = {
    "the recorder fails": (
        "mic.recorders.at(-1).dispatchEvent(new Event('error'))",
        f"The recorder stopped by itself. {KEPT}",
    ),
    "the microphone is unplugged": (
        "mic.track().dispatchEvent(new Event('ended'))",
        f"The microphone was unplugged or taken away. {KEPT}",
    ),
    "a call takes the microphone": (
        "mic.track().dispatchEvent(new Event('mute'))",
        f"The phone took the microphone away, as it does for a call. {KEPT}",
    ),
    "a call stops all audio": (
        "mic.contexts.at(-1).suspend()",
        f"The phone took the microphone away, as it does for a call. {KEPT}",
    ),
    "the screen locks, or another app comes to the front": (
        "mic.goes(true); mic.goes(false)",
        f"The recording stopped: the screen went dark, or you opened something else. {KEPT}",
    ),
    "the page is put away": (
        "dispatchEvent(new PageTransitionEvent('pagehide', {persisted: true}))",
        f"The recording stopped: the screen went dark, or you opened something else. {KEPT}",
    ),
}


def test_whatever_ends_a_recording_the_part_played_is_kept_and_the_page_says_why(
    recorder: Callable[..., Page], seat: Seat
):
    page = recorder()
    press(page, "Start")
    for number, (what, (script, sentence)) in enumerate(ENDINGS.items(), start=1):
        is_recording(page)
        page.evaluate(f"() => {{ {script} }}")
        says(page, sentence)
        listens_back(page)
        takes = kept(page, seat.student.pk)
        assert [take["state"] for take in takes] == ["kept"] * number, what
        assert takes[-1]["bytes"] > 3_000, what
        assert takes[-1]["seconds"] >= 1, what
        # Nothing goes on listening, and the next take has a microphone and an audio context of its own.
        becomes_true(page, "mic.streams.at(-1).getTracks().every((one) => one.readyState === 'ended')")
        becomes_true(page, "mic.contexts.at(-1).state === 'closed'")
        assert page.evaluate("[mic.streams.length, mic.contexts.length]") == [number, number], what
        if number < len(ENDINGS):
            press(page, "Keep it and record another")


def test_a_take_ends_by_itself_at_its_longest(
    recorder: Callable[..., Page], seat: Seat, monkeypatch: pytest.MonkeyPatch
):
    assert work.LONGEST_RECORDING_SECONDS == 600
    monkeypatch.setattr(work, "LONGEST_RECORDING_SECONDS", 3)
    page = recorder()
    press(page, "Start")
    says(page, f"A take ends by itself after 0.05 minutes. {KEPT}")
    listens_back(page)
    (take,) = kept(page, seat.student.pk)
    assert 3 <= take["seconds"] < 6


def test_a_phone_without_room_keeps_what_it_has(
    recorder: Callable[..., Page], seat: Seat, assert_accessible: Callable[[Page], None]
):
    page = recorder()
    storage = page.context.new_cdp_session(page)
    origin = page.evaluate("location.origin")
    quota = {"origin": origin, "quotaSize": 100_000}
    storage.send("Storage.overrideQuotaForOrigin", quota)
    press(page, "Start")
    says(page, "This phone has no room for a recording. Delete something, then press Start again.")
    assert_accessible(page)
    assert kept(page, seat.student.pk) == []

    storage.send("Storage.overrideQuotaForOrigin", quota | {"quotaSize": 2_000_000})
    press(page, "Start")
    is_recording(page)
    page.evaluate(FILL)
    says(page, f"This phone has no room left. {KEPT} Delete something, then record again.")
    listens_back(page)
    (take,) = kept(page, seat.student.pk)
    assert take["bytes"] > 3_000
    assert page.evaluate("async (take) => (await store.blobOf(take)).size", take) == take["bytes"]


def test_silence_is_noticed_while_recording(
    recorder: Callable[..., Page], assert_accessible: Callable[[Page], None]
):
    page = recorder()
    page.evaluate("mic.level = 0")
    press(page, "Start")
    says(page, "The microphone gives no sound at all. Press Start over: a fresh start often helps.")
    assert_accessible(page)
    page.evaluate("mic.level = 0.003")
    press(page, "Start over")
    says(page, "I hear nothing. Is the microphone covered, or is it the wrong one?")
    expect(page.locator("[data-recorder]")).to_have_attribute("data-state", "recording")
    page.evaluate("mic.gain.gain.value = 0")
    press(page, "Stop")
    listens_back(page)
    expect(page.locator("[data-found]")).to_have_text(
        "It is very quiet. Your director may not hear all of it."
    )


def test_one_tab_records_at_a_time(
    recorder: Callable[..., Page], seat: Seat, assert_accessible: Callable[[Page], None]
):
    first, second = recorder(), None
    press(first, "Start")
    is_recording(first)
    second = first.context.new_page()
    second.add_init_script(SIMULATED)
    second.goto(first.url)
    press(second, "Start")
    says(second, "You are recording in another tab. Stop there first, then press Start here.")
    assert_accessible(second)
    press(first, "Stop")
    listens_back(first)
    press(second, "Start")
    is_recording(second)
    press(second, "Stop")
    listens_back(second)
    assert [take["state"] for take in kept(first, seat.student.pk)] == ["kept", "kept"]


def test_the_screen_stays_lit_and_is_asked_for_again_on_return(recorder: Callable[..., Page]):
    counted = """
    (() => {
      const locks = (globalThis.locks = []);
      Object.defineProperty(navigator, "wakeLock", { value: { request: async (kind) => {
        const lock = { kind, released: false, release: async () => { lock.released = true; } };
        locks.push(lock);
        return lock;
      } } });
    })();
    """
    page = recorder(scripts=(SIMULATED, counted))
    press(page, "Start")
    is_recording(page)
    becomes_true(page, "JSON.stringify(locks) === JSON.stringify([{ kind: 'screen', released: false }])")
    page.evaluate("() => { locks[0].released = true; mic.goes(true); mic.goes(false); }")
    listens_back(page)
    becomes_true(page, "locks.map((lock) => lock.released).join() === 'true,false'")


LEVELS = {
    0.001: "No sound yet",
    0.008: "Too quiet: come closer",
    0.3: "Good level",
    1.5: "Too loud: step back",
}


def test_the_microphone_check_says_how_loud_it_is_and_what_to_do(recorder: Callable[..., Page]):
    page = recorder()
    page.evaluate("mic.level = 0.001")
    press(page, "Check my microphone")
    for level, words in LEVELS.items():
        page.evaluate("(level) => { mic.gain.gain.value = level; }", level)
        expect(page.locator("[data-level-says]")).to_have_text(words, timeout=PATIENCE)
        if words == "Too quiet: come closer":
            expect(page.locator("[data-help]")).to_contain_text("Come closer", timeout=PATIENCE)
        if words == "Good level":
            expect(page.get_by_role("heading", level=1)).to_have_text("The microphone hears you")
            expect(page.locator("[data-help]")).to_be_hidden()
    expect(page.locator("[data-help]")).to_contain_text("Step back")
    page.evaluate("mic.goes(true)")
    expect(page.locator("[data-level-says]")).to_have_text("Microphone not on yet")
    says(page, "The microphone is off again: the screen went dark, or you opened something else.")
    becomes_true(page, "mic.track().readyState === 'ended'")


AGENTS = {
    "chrome": "Mozilla/5.0 (X11; CrOS x86_64) AppleWebKit/537.36 Chrome/140.0 Safari/537.36",
    "safari": "Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) AppleWebKit/605.1 Safari/604.1",
    "firefox": "Mozilla/5.0 (Windows NT 10.0; rv:143.0) Gecko/20100101 Firefox/143.0",
}
# As the browsers name it; Chromium tells the three kinds of a refusal apart in words.
REFUSALS = [
    ("NotAllowedError", "Permission denied", "This page may not use the microphone."),
    ("NotAllowedError", "Permission dismissed", "The question about the microphone was closed."),
    (
        "NotAllowedError",
        "Permission denied by system",
        "The phone or computer keeps the microphone from this browser.",
    ),
    ("NotFoundError", "", "No microphone was found."),
    ("NotReadableError", "", "Another program holds the microphone."),
]
OWN_WAYS = {"NotAllowedError Permission denied", "NotFoundError "}


def test_each_trouble_with_the_microphone_has_a_way_out_in_each_browser(recorder: Callable[..., Page]):
    page = recorder()
    for name, message, sentence in REFUSALS:
        ways = {}
        for browser, agent in AGENTS.items():
            page.evaluate(
                """([name, message, agent]) => {
                  mic.error = { name, message };
                  Object.defineProperty(navigator, "userAgent", { value: agent, configurable: true });
                  document.querySelector("[data-help-says]").textContent = "";
                  document.querySelector("[data-help-ways]").textContent = "";
                }""",
                [name, message, agent],
            )
            press(page, "Check my microphone")
            expect(page.locator("[data-help-says]")).to_have_text(sentence)
            expect(page.get_by_role("button", name="Start", exact=True)).to_be_visible()
            expect(page.locator("[data-help-ways]")).not_to_be_empty()
            ways[browser] = page.locator("[data-help-ways]").inner_text()
        assert all(ways.values()), ways
        if f"{name} {message}" in OWN_WAYS:
            assert len(set(ways.values())) == 3, ways


# A browser that promises and never answers; the page is told by `waits` that it was asked.
NEVER = {
    what: f"{function} = () => {{ globalThis.waits = true; return new Promise(() => {{}}); }}"
    for what, function in {
        "permission": "navigator.mediaDevices.getUserMedia",
        "sound": "AudioContext.prototype.resume",
        "storage": "navigator.storage.persist",
    }.items()
}


def test_a_question_about_the_microphone_that_nobody_answers_is_pointed_out_and_ends(
    recorder: Callable[..., Page],
):
    page = recorder(scripts=(SIMULATED, NEVER["permission"]))
    page.clock.install()
    press(page, "Start")
    becomes_true(page, "globalThis.waits === true")
    page.clock.run_for(4_500)
    expect(page.locator("[data-help-says]")).to_have_text("The browser asks about the microphone.")
    expect(page.locator("[data-help-ways]")).to_contain_text("Press Allow.")
    page.clock.run_for(60_000)
    expect(page.locator("[data-help-says]")).to_have_text(
        "The browser's question about the microphone was not answered."
    )
    expect(page.locator("[data-help-ways]")).to_contain_text("Try again: press the button once more.")
    expect(page.get_by_role("button", name="Start", exact=True)).to_be_enabled()


def test_sound_that_never_starts_is_told_and_can_be_tried_again(recorder: Callable[..., Page]):
    page = recorder(scripts=(SIMULATED, NEVER["sound"]))
    page.clock.install()
    press(page, "Start")
    becomes_true(page, "globalThis.waits === true")
    page.clock.run_for(5_500)
    expect(page.locator("[data-help-says]")).to_have_text("The sound of this page did not start.")
    expect(page.get_by_role("button", name="Start", exact=True)).to_be_enabled()
    # the microphone was let go of
    assert page.evaluate("mic.streams.every((one) => one.getTracks().every((t) => t.readyState === 'ended'))")


def test_a_browser_that_never_says_whether_it_keeps_storage_records_all_the_same(
    recorder: Callable[..., Page], seat: Seat
):
    page = recorder(scripts=(SIMULATED, NEVER["storage"]))
    press(page, "Start")
    is_recording(page, seconds=2)
    assert page.evaluate("globalThis.waits === true")
    press(page, "Stop")
    listens_back(page)
    assert [take["state"] for take in kept(page, seat.student.pk)] == ["kept"]


def test_a_real_browser_without_a_microphone(recorder: Callable[..., Page]):
    page = recorder(scripts=())
    page.context.grant_permissions(["microphone"])
    press(page, "Start")
    expect(page.locator("[data-help-says]")).to_have_text("No microphone was found.", timeout=PATIENCE)


def test_both_lines_in_one_go(recorder: Callable[..., Page], seat: Seat):
    page = recorder("AB")
    expect(page.locator('[data-sheet="B"]')).to_be_hidden()
    press(page, "Start")
    expect(page.locator('[data-sheet="B"]')).to_be_visible(timeout=PATIENCE)
    expect(page.locator('[data-sheet="B"] .bar-light.is-on').first).to_be_attached(timeout=PATIENCE)
    press(page, "Stop")
    listens_back(page)
    (take,) = kept(page, seat.student.pk)
    assert take["lines"] == ["A", "B"]


def decoded(data: bytes, path: Path) -> tuple[NDArray[np.float32], int]:
    path.write_bytes(data)
    with av.open(str(path)) as container:
        stream = container.streams.audio[0]
        frames = [
            frame.to_ndarray().reshape(len(frame.layout.channels), -1) for frame in container.decode(stream)
        ]
        return np.concatenate(frames, axis=1).mean(axis=0), stream.rate


def onsets(sound: NDArray[np.float32], rate: int) -> list[float]:
    """Seconds at which something begins after at least a twentieth of a second of nothing."""
    loud = np.flatnonzero(np.abs(sound) > 0.1 * np.abs(sound).max())
    starts = loud[np.concatenate(([True], np.diff(loud) > rate / 20))]
    return [float(start / rate) for start in starts]


def test_beat_one_is_found_to_the_hundredth_and_the_cursor_follows_it(
    recorder: Callable[..., Page], seat: Seat, assignment: Assignment, tmp_path: Path
):
    """The truth is in the sound itself: the clicks of the count are scheduled on the audio clock and, here,
    recorded with it. The chirp is the first thing heard, then four counts, then the click of beat 1.
    """
    assignment.tempos = {"A": 150, "B": 150}
    assignment.save()
    page = recorder(scripts=(SIMULATED, LOUDSPEAKER_IS_HEARD))
    page.evaluate("mic.level = 0")
    page.get_by_text("See and hear it").click()
    page.get_by_text("I wear headphones").click()
    press(page, "Start")
    is_recording(page, seconds=4)
    press(page, "Stop")
    listens_back(page)

    (take,) = kept(page, seat.student.pk)
    data = base64.b64decode(
        page.evaluate(
            """async (id) => {
              const bytes = new Uint8Array(await (await store.blobOf({ id, mime: "" })).arrayBuffer());
              return btoa(Array.from(bytes, (byte) => String.fromCharCode(byte)).join(""));
            }""",
            take["id"],
        )
    )
    heard = onsets(*decoded(data, tmp_path / "take"))
    truth = heard[5]
    assert np.diff(heard[1:6]) == pytest.approx([0.4] * 4, abs=0.002)

    marker = prepare(source=tmp_path / "take", served=tmp_path / "served", limits=Limits()).marker_seconds
    assert marker + take["leadSeconds"] == pytest.approx(truth, abs=0.01)
    expect(page.locator("[data-recorder]")).to_have_attribute("data-beat-one", re.compile(r"\d"))
    on_the_phone = float(page.locator("[data-recorder]").get_attribute("data-beat-one"))
    assert on_the_phone == pytest.approx(truth, abs=0.01)

    # Two and a half beats after beat 1: bar 1, third beat.
    page.evaluate("(at) => { document.querySelector('audio').currentTime = at; }", truth + 2.5 * 0.4)
    lit = page.locator('[data-sheet="A"] .only-narrow .beat-line.is-on')
    expect(lit).to_have_attribute("data-at", "2")
    expect(page.locator('[data-sheet="A"] .only-narrow .bar-light.is-on')).to_have_attribute("data-bar", "0")


def test_a_question_that_stands_and_sound_that_does_not_start_are_told_accessibly(
    recorder: Callable[..., Page], assert_accessible: Callable[[Page], None]
):
    for never, sentence in (
        ("permission", "The browser asks about the microphone."),
        ("sound", "The sound of this page did not start."),
    ):
        page = recorder(scripts=(SIMULATED, NEVER[never]))
        press(page, "Start")
        expect(page.locator("[data-help-says]")).to_have_text(sentence, timeout=PATIENCE)
        assert_accessible(page)


def test_every_state_of_the_recorder_is_accessible(
    recorder: Callable[..., Page], assert_accessible: Callable[[Page], None]
):
    page = recorder()
    assert_accessible(page)
    page.evaluate("mic.error = { name: 'NotAllowedError' }")
    press(page, "Check my microphone")
    expect(page.locator("[data-help]")).to_be_visible()
    assert_accessible(page)
    page.evaluate("mic.error = null")
    press(page, "Check my microphone")
    expect(page.get_by_role("button", name="Turn the microphone off")).to_be_visible()
    assert_accessible(page)
    press(page, "Start")
    is_recording(page)
    assert_accessible(page)
    press(page, "Stop")
    listens_back(page)
    assert_accessible(page)
