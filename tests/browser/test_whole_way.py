"""From the first step to a heard line, in a real Chromium whose microphone plays a synthesised line.

What was heard is compared to the part, and once more by a pitch tracker that is not ours (Praat's, through
parselmouth). Where beat 1 stands is known from the sound itself: the clicks of the count-off are recorded
with it, and beat 1 is one beat after the last of them.
"""

import wave
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import numpy as np
import parselmouth
import pytest
from django.core.files.storage import storages
from django.core.management import call_command
from django.utils.timezone import now
from numpy.typing import NDArray
from playwright.sync_api import Browser, Page, Playwright, expect

from bandroom.demo.sounds import RATE, Slips, sound, tones
from bandroom.people.models import Band, Section
from exercises.models import ExerciseLine
from exercises.parts import part_of
from submissions.models import Assignment, Hearing, Step, StepDone, Take, TurnIn
from tests import factories, machine
from tests.browser.conftest import FLAGS, PHONE, PageAt
from tests.browser.microphone import LOUDSPEAKER_IS_HEARD
from tests.browser.screens import assert_turned_in
from tests.browser.test_recorder import decoded, onsets
from tests.submissions.takes import sounds

pytestmark = pytest.mark.django_db(transaction=True)
ASKED, CHOSEN = 120, 126
# Longer than a busy machine takes from opening the microphone to beat 1.
SILENT_FIRST = 5.0
PATIENCE = 30_000


@pytest.fixture
def assignment(band: Band, section: Section) -> Assignment:
    found = factories.make_assignment(band=band, sections=[section], opens_at=now() - timedelta(days=1))
    found.tempos = {"A": ASKED, "B": ASKED}
    found.tempo_ranges = {"A": [100, 140]}
    found.save()
    line = found.exercise.lines.get(label="A")
    bars = [["Bb3", "A3"], ["Ab3", "Ab3"], ["A3", "C4"]]
    score = line.score | {"bars": [[{"pitch": pitch, "beats": "2"} for pitch in bar] for bar in bars]}
    ExerciseLine.objects.filter(pk=line.pk).update(score=score)
    return found


def played(line: ExerciseLine, instrument: str, *, tempo: int, timbre: str) -> NDArray[np.float64]:
    notes = tones(part=part_of(line=line, instrument=instrument), tempo=tempo, slips=Slips())
    return sound(takes=[notes], timbre=timbre, cents=0, gap=0.5)


def into_the_microphone(path: Path, samples: NDArray[np.float64]) -> None:
    """Chromium reads the file anew whenever a page opens the microphone."""
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        quiet = np.zeros(round(SILENT_FIRST * RATE))
        out.writeframes((np.concatenate((quiet, samples)) * 32767).astype("<i2").tobytes())


@pytest.fixture
def microphone(tmp_path: Path) -> Path:
    return tmp_path / "microphone.wav"


@pytest.fixture
def browser(playwright: Playwright, microphone: Path) -> Iterator[Browser]:
    flags = [
        *FLAGS,
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-audio-capture={microphone}%noloop",
    ]
    running = playwright.chromium.launch(executable_path=machine.chromium(), args=flags)
    yield running
    running.close()


def go_through_the_steps(page: Page, assignment: Assignment) -> None:
    page.goto("/work/")
    page.get_by_role("link", name="No. 1, Stepping Stones").click()
    page.get_by_role("link", name="Get ready").click()
    for box in page.locator('#ready input[type="checkbox"]').all():
        box.check()
    page.get_by_role("button", name="Keep my ticks").click()
    expect(page.get_by_text("All set. You can change it.")).to_be_visible()
    page.get_by_role("link", name="Next step").click()
    for label in assignment.lines:
        page.goto(f"/work/{assignment.pk}/steps/signs/?line={label}")
        show = page.get_by_role("button", name="Show me one")
        left = page.locator("[data-count]")
        while "0 to go" not in left.inner_text():
            before = left.inner_text()
            show.click()
            expect(left).not_to_have_text(before)
        if noted := page.locator(".peg[aria-pressed=true]:visible").count():
            expect(page.locator("[data-step-page]")).to_have_attribute("data-kept", str(noted))
        else:
            page.get_by_role("button", name="I looked: every note is plain").click()
            expect(page.get_by_text(f"Line {label} is done")).to_be_visible()
    for step in (Step.NAMES, Step.FINGERS, Step.PLAY):
        for label in assignment.lines:
            page.goto(f"/work/{assignment.pk}/steps/{step}/?line={label}")
            page.get_by_role("button", name="this line").click()
            expect(page.get_by_text(f"Line {label} is done")).to_be_visible()


def record(page: Page, *, seconds: float) -> None:
    page.get_by_text("Hear it", exact=True).click()
    page.get_by_role("button", name="Start", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Playing, bar 1 of", timeout=PATIENCE)
    page.wait_for_timeout(seconds * 1000)
    page.get_by_role("button", name="Stop", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Listen back", timeout=PATIENCE)
    page.get_by_role("button", name="Keep this take").click()


def turn_in(page: Page) -> None:
    page.get_by_role("button", name="Turn in").click()
    assert_turned_in(page, timeout=PATIENCE)


def served(take: Take, folder: Path) -> tuple[NDArray[np.float32], int]:
    with storages["takes"].open(take.served) as file:
        return decoded(file.read(), folder / take.served.rpartition("/")[2])


def is_heard_as_written(take: Take, label: str, folder: Path) -> None:
    line = take.assignment.exercise.lines.get(label=label)
    part = part_of(line=line, instrument=take.seat.instrument)
    hearing = Hearing.objects.get(take=take)
    assert (hearing.state, hearing.reason) == (Hearing.State.DONE, "")
    notes = hearing.evidence[label]["notes"]
    written = [midi for midi in part.sounding_midi() if midi is not None]
    assert [note["verdict"] for note in notes] == ["as_written"] * len(written)
    assert [note["heard_midi"] for note in notes] == written

    heard, rate = served(take, folder)
    pitch = parselmouth.Sound(heard.astype(float), rate).to_pitch_ac(pitch_floor=75, pitch_ceiling=1000)
    for note, midi in zip(notes, written, strict=True):
        middle = note["onset_seconds"] + note["held_seconds"] * np.linspace(0.3, 0.7, 9)
        hertz = np.nanmedian([pitch.get_value_at_time(at) for at in middle])
        assert 12 * np.log2(hertz / 440) + 69 == pytest.approx(midi, abs=0.3), note


def test_through_every_step_recorded_turned_in_and_heard_as_written(
    page_at: PageAt, section: Section, assignment: Assignment, microphone: Path, tmp_path: Path
):
    lines = {line.label: line for line in assignment.exercise.lines.all()}
    sax = factories.make_seat(section=section, instrument="alto_sax")
    into_the_microphone(microphone, np.zeros(RATE))
    page = page_at(PHONE, sax.student)
    page.add_init_script(LOUDSPEAKER_IS_HEARD)
    go_through_the_steps(page, assignment)
    assert StepDone.objects.filter(seat=sax, finished=True).count() == len(Step)

    page.goto(f"/work/{assignment.pk}/")
    # The line to record next is at hand.
    page.locator("[data-next]").click()
    into_the_microphone(microphone, played(lines["A"], "alto_sax", tempo=CHOSEN, timbre="woodwind"))
    page.get_by_label("Beats a minute").fill(str(CHOSEN))
    record(page, seconds=SILENT_FIRST + 6)
    expect(page.locator('[data-cell="record-A"]')).to_contain_text("1 take here")
    page.get_by_role("link", name="Record line B").last.click()
    into_the_microphone(microphone, played(lines["B"], "alto_sax", tempo=ASKED, timbre="woodwind"))
    record(page, seconds=SILENT_FIRST + 5)
    expect(page.locator("[data-take-number]")).to_have_count(0)
    turn_in(page)

    trumpet = factories.make_seat(section=section, instrument="trumpet")
    other = page_at(PHONE, trumpet.student)
    other.goto(f"/work/{assignment.pk}/")
    for label, write, name in (("A", sounds.m4a, "memo.m4a"), ("B", sounds.mp3, "memo.mp3")):
        samples = played(lines[label], "trumpet", tempo=ASKED, timbre="brass")
        at_48k = np.interp(np.arange(0, samples.size, RATE / sounds.RATE), np.arange(samples.size), samples)
        file = write(tmp_path / name, at_48k.astype(np.float32))
        other.locator(f'[data-file="{label}"]').set_input_files(file)
        expect(other.locator(f'[data-takes="{label}"] .take')).to_contain_text("Its level is good.")
    turn_in(other)

    call_command("work", "--once")
    for seat in (sax, trumpet):
        row = TurnIn.objects.get(seat=seat)
        for label in assignment.lines:
            is_heard_as_written(row.counting.get(line=label).take, label, tmp_path)

    tempos = {"A": CHOSEN, "B": ASKED}
    for label, tempo in tempos.items():
        take = TurnIn.objects.get(seat=sax).counting.get(line=label).take
        assert take.tempos == {label: tempo}
        beat = 60 / tempo
        clicks = onsets(*served(take, tmp_path))[1:5]
        assert np.diff(clicks) == pytest.approx([beat] * 3, abs=0.002)
        assert take.beat_one_seconds == pytest.approx(clicks[-1] + beat, abs=0.01)
