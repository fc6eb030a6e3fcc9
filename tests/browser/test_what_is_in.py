"""What a student is told of what the school has: all of it, what is on its way, what cannot be played."""

from collections.abc import Callable
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command
from playwright.sync_api import Page, expect

from bandroom.people.models import Seat, Section
from submissions.models import Assignment, Take, TurnIn
from tests import factories
from tests.browser.conftest import PHONE, WIDE, PageAt
from tests.browser.microphone import STORE
from tests.browser.screens import assert_turned_in, becomes_true, press_turn_in
from tests.signing_in import signed_in
from tests.submissions.takes import sounds

pytestmark = pytest.mark.django_db(transaction=True)

ALL_RECEIVED = "async (user) => (await store.takesOf(user)).every((take) => take.state === 'received')"
ASKS_BEFORE_CLOSING = "() => !window.dispatchEvent(new Event('beforeunload', { cancelable: true }))"
KEEP = """async ([user, assignment, seconds, cut]) => {
  const take = await store.startTake({ user, assignment, lines: ["A"], mime: "audio/webm" });
  await store.addChunk(take.id, 0, new Blob([new Uint8Array(4000).fill(seconds)]));
  await store.finishTake(user, take.id, { seconds, cut });
}"""


@pytest.fixture
def one_line(assignment: Assignment) -> Assignment:
    assignment.lines = ["A"]
    assignment.tempos = {"A": 60, "B": 60}  # eight seconds
    assignment.save(update_fields=["lines", "tempos"])
    return assignment


@pytest.fixture
def wav(tmp_path: Path) -> Path:
    return sounds.wav(tmp_path / "kitchen.wav", sounds.line(seconds=3))


def work(page: Page, assignment: Assignment) -> None:
    page.goto(f"/work/{assignment.pk}/")
    page.locator("body[data-ready]").wait_for()


def hold_bytes(page: Page) -> Callable[[], None]:
    """The school knows of the take; its bytes do not get through until the returned function is called."""
    page.route("**/uploads/**", lambda route: route.abort())
    return lambda: page.unroute("**/uploads/**")


def test_the_director_has_it_only_once_the_bytes_are_there(
    page_at: PageAt, seat: Seat, one_line: Assignment, wav: Path
):
    page = page_at(PHONE, seat.student)
    work(page, one_line)
    go_on = hold_bytes(page)
    page.locator('[data-file="A"]').set_input_files(wav)
    press_turn_in(page)
    status = page.locator("[data-sending]")
    expect(page.locator('[data-step="turn-in"]')).to_contain_text("on its way")
    expect(status).not_to_contain_text("Your director has it")
    # Closing is asked about while bytes are on their way, here and on the first page.
    assert page.evaluate(ASKS_BEFORE_CLOSING)
    page.goto("/work/")
    expect(page.get_by_text("Still sending. Keep this page open.")).to_be_visible()
    assert page.evaluate(ASKS_BEFORE_CLOSING)

    go_on()
    page.reload()
    page.evaluate(STORE)
    becomes_true(page, ALL_RECEIVED, seat.student.pk)
    work(page, one_line)

    expect(page.get_by_text("your school has it")).to_be_visible(timeout=20_000)
    assert Take.objects.get().received_at is not None
    page.goto("/work/")
    expect(page.get_by_text("Still sending")).to_be_hidden()
    assert not page.evaluate(ASKS_BEFORE_CLOSING)


def test_signing_out_with_a_recording_that_is_not_at_school_is_a_choice(
    page_at: PageAt, seat: Seat, section: Section, one_line: Assignment, wav: Path
):
    classmate = factories.make_seat(section=section)
    page = page_at(WIDE, seat.student)
    work(page, one_line)
    hold_bytes(page)
    page.locator('[data-file="A"]').set_input_files(wav)
    press_turn_in(page)
    page.get_by_role("button", name="Sign out").click()
    asked = page.get_by_role("dialog")
    expect(asked).to_contain_text("A recording of yours is still here, and your school does not have it.")
    asked.get_by_role("button", name="Wait").click()
    expect(page).to_have_url(f"{page.url.split('/work')[0]}/work/{one_line.pk}/")
    page.get_by_role("button", name="Sign out").click()
    asked.get_by_role("button", name="Sign out, leave it here for me").click()
    page.wait_for_url("**/sign-in/**")

    # The next child on this laptop sees nothing of it, and sends nothing of it.
    page.unroute("**/uploads/**")
    _sign_in(page, classmate)
    work(page, one_line)
    expect(page.locator(".take")).to_have_count(0)
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/**")
    assert Take.objects.get().received_at is None

    # Its own student's next sign-in sends it from the first page on.
    _sign_in(page, seat)
    page.goto("/work/")
    page.evaluate(STORE)
    becomes_true(page, ALL_RECEIVED, seat.student.pk)
    assert Take.objects.get().received_at is not None


def _sign_in(page: Page, seat: Seat) -> None:
    cookie = signed_in(seat.student).cookies[settings.SESSION_COOKIE_NAME]
    home = "/".join(page.url.split("/")[:3])
    page.context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": cookie.value, "url": home}])


def test_the_latest_whole_take_is_offered_and_a_choice_outlives_a_reload(
    page_at: PageAt, seat: Seat, one_line: Assignment
):
    page = page_at(PHONE, seat.student)
    work(page, one_line)
    page.evaluate(STORE)
    for seconds, cut in ((9, False), (8, False), (3, False), (8, True)):
        page.evaluate(KEEP, [seat.student.pk, one_line.pk, seconds, cut])
    page.reload()
    page.locator("body[data-ready]").wait_for()

    # the newest are a fragment and one that was cut off
    takes = page.locator(".take")
    expect(takes).to_have_count(4)
    expect(takes.nth(0)).to_contain_text("Take 4")
    expect(takes.nth(0)).to_contain_text("0:08, cut off, kept on this phone")
    expect(takes.nth(1)).to_contain_text("0:03, kept on this phone")
    expect(page.locator(".take", has_text="will be turned in")).to_contain_text("Take 2")

    takes.nth(3).get_by_role("radio").check()
    expect(page.locator(".take", has_text="will be turned in")).to_contain_text("Take 1")
    page.reload()
    page.locator("body[data-ready]").wait_for()
    expect(page.locator(".take", has_text="will be turned in")).to_contain_text("Take 1")


def test_a_file_that_cannot_be_played_is_told_on_the_first_page_until_it_is_settled(
    page_at: PageAt,
    seat: Seat,
    one_line: Assignment,
    wav: Path,
    tmp_path: Path,
    assert_accessible: Callable[[Page], None],
):
    page = page_at(PHONE, seat.student)
    work(page, one_line)
    page.locator('[data-file="A"]').set_input_files(wav)
    press_turn_in(page)
    assert_turned_in(page, timeout=20_000)
    call_command("work", "--once")
    work(page, one_line)
    words = tmp_path / "last.mp3"
    words.write_bytes(b"ID3\x04" + b"only words, whatever its name says " * 99)
    page.locator('[data-file="A"]').set_input_files(words)
    press_turn_in(page)
    assert_turned_in(page, timeout=20_000)

    call_command("work", "--once")

    assert [take.state for take in Take.objects.order_by("declared_at")] == ["ready", "refused"]
    says = "The last recording you turned in for line A cannot be played. Your earlier one counts."
    page.goto("/work/")
    expect(page.get_by_role("alert")).to_contain_text(says)
    assert_accessible(page)
    page.get_by_role("alert").get_by_role("link").click()
    expect(page.get_by_text(says)).to_be_visible()
    assert_accessible(page)
    assert TurnIn.objects.get().counting.get().take.state == Take.State.READY

    page.locator('[data-file="A"]').set_input_files(
        sounds.wav(tmp_path / "again.wav", sounds.line(seconds=2))
    )
    press_turn_in(page)
    assert_turned_in(page, timeout=20_000)
    page.goto("/work/")
    expect(page.get_by_role("heading", name="To play")).to_be_visible()
    expect(page.get_by_role("alert")).to_have_count(0)
