"""A student's way from the sheet to a turned-in take, in a real browser with a fake microphone."""

import wave
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.management import call_command
from django.utils.timezone import now
from playwright.sync_api import Browser, Page, Playwright, expect

from bandroom.demo.sounds import RATE, Slips, sound, tones
from bandroom.people.models import Band, Membership, RecordingPermission, Seat, Section
from exercises.parts import part_of
from submissions.models import Assignment, StepDone, Take, TurnIn
from tests import factories, machine
from tests.browser.conftest import FLAGS, PHONE, WIDE, PageAt
from tests.browser.screens import assert_turned_in, press_turn_in
from tests.submissions.takes import sounds

pytestmark = pytest.mark.django_db(transaction=True)
TEMPO = 120
A_ALONE = "Line A is in. Line B is still to play."


@pytest.fixture
def assignment(band: Band, section: Section) -> Assignment:
    found = factories.make_assignment(band=band, sections=[section], opens_at=now() - timedelta(days=1))
    found.tempos = {"A": TEMPO, "B": TEMPO}
    found.save()
    return found


@pytest.fixture
def microphone(tmp_path: Path, assignment: Assignment) -> Path:
    """A WAV file of line A as the clarinet sounds it, over and over."""
    line = assignment.exercise.lines.get(label="A")
    played = tones(part=part_of(line=line, instrument="clarinet"), tempo=TEMPO, slips=Slips())
    samples = (sound(takes=[played], timbre="clarinet", cents=0, gap=0.2) * 32767).astype("<i2")
    path = tmp_path / "microphone.wav"
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        out.writeframes(samples.tobytes())
    return path


@pytest.fixture
def browser(playwright: Playwright, microphone: Path) -> Iterator[Browser]:
    """A browser whose microphone is that file."""
    running = playwright.chromium.launch(
        executable_path=machine.chromium(),
        args=[
            *FLAGS,
            "--use-fake-device-for-media-stream",
            "--use-fake-ui-for-media-stream",
            f"--use-file-for-fake-audio-capture={microphone}",
        ],
    )
    yield running
    running.close()


def record(page: Page, *, seconds: float) -> None:
    page.get_by_role("button", name="Start", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Playing, bar 1 of", timeout=10_000)
    page.wait_for_timeout(seconds * 1000)
    page.get_by_role("button", name="Stop", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Listen back", timeout=10_000)


def test_from_the_sheet_to_a_turned_in_take(
    page_at: PageAt, seat: Seat, assignment: Assignment, microphone: Path
):
    page = page_at(PHONE, seat.student)
    page.goto("/work/")
    page.get_by_role("link", name="No. 1, Stepping Stones").click()
    page.locator('[data-record="A"]').click()
    record(page, seconds=4)
    page.get_by_role("button", name="Keep this take").click()

    expect(page.get_by_text("Take 1 will be turned in")).to_be_visible(timeout=10_000)
    assert not Take.objects.exists()
    # Half the work is asked about once, and never looks like all of it.
    page.get_by_role("button", name="Turn in", exact=True).click()
    asked = page.get_by_role("dialog")
    expect(asked).to_contain_text("Line B is still to play. Turn in the rest now?")
    asked.get_by_role("button", name="Go back").click()
    assert not TurnIn.objects.exists()
    press_turn_in(page, part="A")
    assert_turned_in(page, timeout=20_000, says=A_ALONE)
    # The whole page knows it, without a reload of the student's own.
    expect(page.locator(".due")).to_contain_text(A_ALONE)
    expect(page.get_by_text("this one counts")).to_be_visible()
    expect(page.locator(".dock")).to_contain_text("Line A in")
    expect(page.locator(".dock").get_by_role("link")).to_have_text("Record line B")
    page.goto("/work/")
    expect(page.locator("section", has_text="To play")).to_contain_text(A_ALONE)
    page.go_back()

    row = TurnIn.objects.get()
    take = row.counting.get(line="A").take
    assert (row.state, row.seat, take.state, take.origin) == ("waiting", seat, "received", "recorder")
    call_command("work", "--once")
    take.refresh_from_db()
    assert take.state == Take.State.READY
    assert take.seconds is not None
    # Two seconds of count-off and four of playing, and however long this machine took for the rest.
    assert 5.5 < take.seconds < 20
    assert take.beat_one_seconds is not None
    # The chirp, a quarter of a second, then four counts at 120; test_recorder proves it to the hundredth.
    assert take.lead_seconds == pytest.approx(2.25, abs=0.001)
    assert 2.2 < take.beat_one_seconds < take.seconds - 3.0

    page.reload()
    page.locator("body[data-ready]").wait_for()
    expect(page.get_by_text("this one counts")).to_be_visible()
    page.get_by_role("button", name="Listen").click()
    expect(page.get_by_role("button", name="Stop")).to_be_visible()

    # A take of the other line joins it, and nothing is asked.
    expect(page.get_by_role("button", name="Turn in", exact=True)).to_be_hidden()
    page.locator('[data-file="B"]').set_input_files(microphone)
    press_turn_in(page)
    assert_turned_in(page, timeout=20_000)
    assert {counting.line for counting in row.counting.all()} == {"A", "B"}


def test_a_file_from_elsewhere_is_looked_into_kept_and_turned_in(
    page_at: PageAt, seat: Seat, assignment: Assignment, microphone: Path, tmp_path: Path
):
    page = page_at(WIDE, seat.student)
    page.goto(f"/work/{assignment.pk}/")
    page.locator("body[data-ready]").wait_for()
    silent = sounds.wav(tmp_path / "silent.wav", sounds.silence(seconds=3))
    faint = sounds.m4a(tmp_path / "faint.m4a", sounds.line(seconds=3, level=0.008))
    long = sounds.mp3(tmp_path / "long.mp3", sounds.line(seconds=50))
    broken = tmp_path / "broken.mp3"
    broken.write_bytes(b"ID3\x04" + b"no sound at all, only words " * 99)
    words = tmp_path / "words.m4a"
    words.write_bytes(b"no sound at all, only words " * 99)
    for file, says in {
        silent: "There is no sound in it. Check the microphone and record it again.",
        faint: "It is very quiet. Your director may not hear all of it.",
        long: "It is 0:50 long; the line takes about 0:04.",
        broken: "This browser cannot look into it. Your school’s computer will try when you turn it in.",
        microphone: "Its level is good.",
    }.items():
        page.locator('[data-file="B"]').set_input_files(file)
        expect(page.locator(".take", has_text="will be turned in")).to_contain_text(says, timeout=20_000)
    expect(page.locator(".take")).to_have_count(5)
    expect(page.locator(".take", has_text="no sound in it")).to_contain_text("0:03")
    # Each is named by its file; what is no recording at all is told in one sentence, and changes nothing.
    expect(page.locator(".take", has_text="will be turned in")).to_contain_text("microphone.wav")
    page.locator('[data-file="B"]').set_input_files(words)
    expect(page.locator("[data-sending]")).to_have_text(
        "“words.m4a” is not a recording. Choose an m4a, mp3, wav, webm, ogg, flac or mp4 file."
    )
    expect(page.locator(".take")).to_have_count(5)
    assert not Take.objects.exists()

    press_turn_in(page, part="B")
    assert_turned_in(page, timeout=20_000, says="Line B is in. Line A is still to play.")
    assert TurnIn.objects.get().counting.get().take.origin == Take.Origin.FILE
    assert Take.objects.count() == 1


def test_every_page_of_a_student_is_accessible(
    page_at: PageAt, seat: Seat, assignment: Assignment, assert_accessible: Callable[[Page], None]
):
    page = page_at(PHONE, seat.student)
    for path in ("/work/", "/work/earlier/", f"/work/{assignment.pk}/", f"/work/{assignment.pk}/record/A/"):
        page.goto(path)
        assert_accessible(page)
    Membership.objects.update(recording=RecordingPermission.PENDING)
    page.goto(f"/work/{assignment.pk}/")
    assert_accessible(page)


def test_a_step_that_comes_first_is_at_hand_until_it_is_done(
    page_at: PageAt, seat: Seat, assignment: Assignment
):
    Assignment.objects.update(first_steps=["names"])
    page = page_at(PHONE, seat.student)
    page.goto(f"/work/{assignment.pk}/")
    dock = page.locator(".dock")
    expect(dock.get_by_role("link")).to_have_text("Say the names")
    expect(dock.get_by_role("button")).not_to_be_visible()
    dock.get_by_role("link").click()
    page.wait_for_url(f"**/work/{assignment.pk}/steps/names/")
    StepDone.objects.create(seat=seat, assignment=assignment, step="names", finished=True, at=now())
    page.goto(f"/work/{assignment.pk}/")
    expect(dock.get_by_role("link")).to_have_text("Record line A")
