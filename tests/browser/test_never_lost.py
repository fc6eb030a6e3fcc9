"""A finished take is never lost.

Each row of the table is what happens to phones, in a real Chromium, from the student's own pages; a take is
lost where neither the phone nor the school has the whole of it. The count of trials is printed at the end.
"""

import hashlib
import io
import os
import signal
import time
import wave
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.core.files.storage import storages
from django.utils.timezone import now
from playwright.sync_api import BrowserContext, Page, Playwright, Route, expect

from bandroom.people.models import Seat, User
from submissions.models import Assignment, CountingTake, Take, TurnIn
from tests import machine
from tests.browser import trials as trials_table
from tests.browser.conftest import FLAGS, PHONE, PageAt
from tests.browser.microphone import FILL, SIMULATED, STORE
from tests.browser.screens import assert_turned_in, becomes_true
from tests.browser.served import Server
from tests.signing_in import signed_in
from tests.submissions.takes.processes import environment

pytestmark = pytest.mark.django_db(transaction=True)
PATIENCE = 40_000
ALL_RECEIVED = "async (user) => (await store.takesOf(user)).every((take) => take.state === 'received')"


type Ledger = Callable[..., None]


@pytest.fixture
def assignment(assignment: Assignment) -> Assignment:
    """Line A alone: nothing is asked about the other when it is turned in."""
    assignment.lines = ["A"]
    assignment.save(update_fields=["lines"])
    return assignment


@pytest.fixture
def ledger(record_property: Callable[[str, object], None]) -> Ledger:
    """`ledger(row, trials=…, lost=…)` adds to the row."""

    def note(row: str, *, trials: int, lost: int) -> None:
        record_property(trials_table.PROPERTY, [row, trials, lost])

    return note


def recording(*, seconds: float = 2, hertz: float = 233) -> bytes:
    """A WAV file of one tone, as a phone's own recorder might have made it."""
    rate = 16_000
    samples = np.sin(2 * np.pi * hertz * np.arange(round(seconds * rate)) / rate) * 9_000
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(samples.astype("<i2").tobytes())
    return out.getvalue()


@dataclass(frozen=True, slots=True)
class Phone:
    """A student's pages on one device."""

    page: Page
    assignment: Assignment
    user: User
    takes: set[str] = field(default_factory=set)

    def work(self) -> None:
        self.page.goto(f"/work/{self.assignment.pk}/")
        self.page.locator("body[data-ready]").wait_for(timeout=PATIENCE)
        self.page.evaluate(STORE)

    def starts_recording(self, *, seconds: int = 1) -> None:
        """Until so many seconds are on the phone."""
        self.page.goto(f"/work/{self.assignment.pk}/record/A/")
        self.page.get_by_role("button", name="Start", exact=True).click()
        self.page.wait_for_function(
            "(least) => Number(document.querySelector('[data-recorder]').dataset.seconds) >= least",
            arg=seconds,
            timeout=PATIENCE,
        )
        self.page.wait_for_timeout(400)  # the second just told goes to the disk

    def stops_and_keeps(self) -> None:
        self.page.get_by_role("button", name="Stop", exact=True).click()
        self.page.get_by_role("button", name="Keep this take").click(timeout=PATIENCE)
        self.page.locator("[data-turn-in]").wait_for(timeout=PATIENCE)
        self.page.evaluate(STORE)

    def adds_file(self, data: bytes, line: str = "A") -> None:
        file = {"name": "mine.wav", "mimeType": "audio/wav", "buffer": data}
        self.page.locator(f'[data-file="{line}"]').set_input_files(file)
        self.says("The file is kept here. Listen to it, then press Turn in.")

    def presses(self) -> None:
        self.remember()
        self.page.get_by_role("button", name="Turn in").click()

    def presses_on_a_slow_line(self) -> None:
        """Until some of the recording is at school, and not yet all of it."""
        slow = {"offline": False, "latency": 20, "downloadThroughput": 1e6, "uploadThroughput": 400_000}
        self.page.context.new_cdp_session(self.page).send("Network.emulateNetworkConditions", slow)
        self.presses()
        until = time.monotonic() + PATIENCE / 1000
        while not Take.objects.filter(received_bytes__gt=0).exists():
            assert time.monotonic() < until, "nothing was sent"
            self.page.wait_for_timeout(50)

    def remember(self) -> None:
        """From now on these takes must be here or at school."""
        self.takes.update(take["id"] for take in self.here())

    def says(self, words: str) -> None:
        expect(self.page.locator("[data-sending]")).to_contain_text(words, timeout=PATIENCE)

    def is_in(self) -> None:
        """The school has everything, and the page was fetched anew and says so."""
        assert_turned_in(self.page, timeout=PATIENCE)
        self.page.evaluate(STORE)

    def here(self) -> list[dict[str, Any]]:
        return self.page.evaluate("(user) => store.takesOf(user)", self.user.pk)

    def lost(self) -> int:
        """Of the takes remembered, and there must be one."""
        assert self.takes
        whole = set()
        for take in self.here():
            size = self.page.evaluate("async (take) => (await store.blobOf(take)).size", take)
            if take["bytes"] and size == take["bytes"]:
                whole.add(take["id"])
        return sum(take not in whole and not school_has(take) for take in self.takes)


def school_has(take: str) -> bool:
    row = Take.objects.filter(pk=take, received_at__isnull=False).first()
    if row is None:
        return False
    with storages["takes"].open(row.original, "rb") as file:
        return hashlib.sha256(file.read()).hexdigest() == row.declared_sha256


def sign_in(context: BrowserContext, user: User, url: str) -> None:
    client = signed_in(user)
    name = settings.SESSION_COOKIE_NAME
    context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": url}])


@pytest.fixture
def phone(page_at: PageAt, seat: Seat, assignment: Assignment) -> Phone:
    page = page_at(PHONE, seat.student)
    page.add_init_script(SIMULATED)
    return Phone(page=page, assignment=assignment, user=seat.student)


def all_arrived(phone: Phone) -> None:
    """The school has every take, and the phone let go of it only now."""
    phone.is_in()
    assert all(school_has(take) for take in phone.takes)
    assert TurnIn.objects.get().state == TurnIn.State.WAITING


def test_reload_while_recording(phone: Phone, ledger: Ledger):
    for seconds in (1, 2):
        phone.starts_recording(seconds=seconds)
        phone.page.reload()
        expect(phone.page.locator("[data-trouble]")).to_have_text(
            "A recording was cut off before you pressed Stop. What you played is kept here.", timeout=PATIENCE
        )
    phone.work()
    phone.remember()
    assert [take["bytes"] > seconds * 2_000 for take, seconds in zip(phone.here(), (1, 2), strict=True)] == [
        True,
        True,
    ]
    phone.presses()
    phone.is_in()
    ledger("reload while recording", trials=2, lost=phone.lost())
    assert phone.lost() == 0


def test_browser_killed_while_recording(
    playwright: Playwright, live_server, tmp_path, seat: Seat, assignment: Assignment, ledger: Ledger
):
    folder = tmp_path / "profile"

    def launch() -> tuple[BrowserContext, Phone]:
        context = playwright.chromium.launch_persistent_context(
            folder, executable_path=machine.chromium(), args=FLAGS, base_url=live_server.url, locale="en-US"
        )
        context.add_init_script(SIMULATED)
        sign_in(context, seat.student, live_server.url)
        return context, Phone(page=context.new_page(), assignment=assignment, user=seat.student)

    _killed, phone = launch()
    phone.starts_recording(seconds=2)
    for pid in own_processes(str(folder)):
        os.kill(pid, signal.SIGKILL)
    until = time.monotonic() + 10
    while own_processes(str(folder)) and time.monotonic() < until:
        time.sleep(0.05)

    context, phone = launch()
    phone.work()
    phone.says("A recording was cut off before you pressed Stop. What you played is kept here.")
    (take,) = phone.here()
    assert take["bytes"] > 4_000
    phone.presses()
    all_arrived(phone)
    ledger("browser killed while recording", trials=1, lost=phone.lost())
    assert phone.lost() == 0
    context.close()


def own_processes(folder: str) -> list[int]:
    """Of the browser that was started on that profile."""
    found = []
    for entry in os.listdir("/proc"):
        if entry.isdecimal():
            try:
                with open(f"/proc/{entry}/cmdline", encoding="utf-8", errors="replace") as command:
                    if folder in command.read():
                        found.append(int(entry))
            except OSError:
                continue
    return found


def test_network_off_before_the_page_is_opened(
    page_at: PageAt, seat: Seat, assignment: Assignment, ledger: Ledger
):
    """The pages were opened once; then there is no network from the sheet to the press."""
    page = page_at(PHONE, seat.student, service_workers="allow")
    page.add_init_script(SIMULATED)
    phone = Phone(page=page, assignment=assignment, user=seat.student)
    page.goto("/work/")
    for path in ("", "record/A/"):
        is_kept(page, f"/work/{assignment.pk}/{path}")
    page.context.set_offline(True)
    phone.work()
    phone.starts_recording()
    phone.stops_and_keeps()
    phone.presses()
    phone.says("No internet right now.")
    assert not TurnIn.objects.exists()
    page.context.set_offline(False)
    all_arrived(phone)
    ledger("network off before", trials=1, lost=phone.lost())
    assert phone.lost() == 0


def test_network_off_during_the_recording(
    page_at: PageAt, seat: Seat, assignment: Assignment, ledger: Ledger
):
    page = page_at(PHONE, seat.student, service_workers="allow")
    page.add_init_script(SIMULATED)
    phone = Phone(page=page, assignment=assignment, user=seat.student)
    phone.work()
    is_kept(page, f"/work/{assignment.pk}/")
    phone.starts_recording()
    page.context.set_offline(True)
    page.wait_for_timeout(500)
    phone.stops_and_keeps()
    phone.presses()
    phone.says("No internet right now.")
    page.context.set_offline(False)
    all_arrived(phone)
    ledger("network off during", trials=1, lost=phone.lost())
    assert phone.lost() == 0


def test_network_off_after_the_press(phone: Phone, ledger: Ledger):
    phone.work()
    phone.adds_file(recording(seconds=10))
    pieces = cut(phone, after=1, then=lambda: phone.page.context.set_offline(True))
    phone.presses()
    phone.says("No internet right now.")
    assert pieces
    assert Take.objects.get().received_at is None
    phone.page.context.set_offline(False)
    all_arrived(phone)
    ledger("network off after", trials=1, lost=phone.lost())
    assert phone.lost() == 0


def is_kept(page: Page, path: str) -> None:
    """The service worker has the page for when there is no network."""
    becomes_true(page, "async (path) => Boolean(await caches.match(path))", path)


def cut(phone: Phone, *, after: int, then: Callable[[], object]) -> list[str]:
    """Lets so many pieces through, then does something before the next one goes."""
    seen: list[str] = []

    def handle(route: Route) -> None:
        if route.request.method == "PATCH":
            seen.append(route.request.url)
            if len(seen) == after + 1:
                then()
        route.continue_()

    phone.page.route("**/uploads/**", handle)
    return seen


@pytest.fixture
def own_server(live_server) -> Iterator[Server]:
    """On the same database and folders as the live server, in a process that can be killed."""
    server = Server(environment=environment())
    server.start()
    yield server
    server.stop(signal.SIGKILL)


@pytest.mark.parametrize(
    ("row", "how"),
    [
        ("server killed during upload", signal.SIGKILL),
        ("server restarted with the database", signal.SIGTERM),
    ],
)
def test_the_server_goes_and_comes_back(
    browser,
    own_server: Server,
    seat: Seat,
    assignment: Assignment,
    ledger: Ledger,
    row: str,
    how: signal.Signals,
):
    context = browser.new_context(
        base_url=own_server.url, viewport={"width": PHONE, "height": 844}, service_workers="block"
    )
    sign_in(context, seat.student, own_server.url)
    phone = Phone(page=context.new_page(), assignment=assignment, user=seat.student)
    phone.work()
    phone.adds_file(recording(seconds=80))
    phone.presses_on_a_slow_line()
    own_server.stop(how)
    phone.says("Your takes are kept")
    (take,) = Take.objects.all()
    assert take.received_bytes > 0
    assert take.received_at is None
    own_server.start()
    all_arrived(phone)
    ledger(row, trials=1, lost=phone.lost())
    assert phone.lost() == 0
    context.close()


def test_login_expires_during_upload(phone: Phone, ledger: Ledger):
    phone.work()
    phone.adds_file(recording(seconds=40))
    phone.presses_on_a_slow_line()
    phone.user.set_password("four-green-valves")
    phone.user.save(update_fields=["password"])
    Session.objects.all().delete()
    phone.says("You were signed out.")
    assert Take.objects.get().received_at is None
    page = phone.page
    page.get_by_role("link", name="Sign in").click()
    page.get_by_label("Name-id").fill(phone.user.sign_in_name)
    for number, word in enumerate(["four", "green", "valves"], start=1):
        page.locator(f"[name=word_{number}]").fill(word)
    page.get_by_role("button", name="Go in").click()
    page.locator("[data-turn-in]").wait_for(timeout=PATIENCE)
    page.evaluate(STORE)
    becomes_true(page, ALL_RECEIVED, phone.user.pk)
    assert all(school_has(take) for take in phone.takes)
    assert Take.objects.get().seat.student == phone.user
    ledger("login expired during upload", trials=1, lost=phone.lost())
    assert phone.lost() == 0


def test_a_captive_portal_answers_everything_with_its_own_page(phone: Phone, ledger: Ledger):
    phone.work()
    phone.adds_file(recording())
    page = "<html><title>Welcome</title>Accept our terms to use this network.</html>"
    steps = ("**/turn-in/", "**/uploads/**", "**/takes/*/")
    met: dict[str, int] = dict.fromkeys(steps, 0)

    def portal(step: str) -> Callable[[Route], None]:
        def handle(route: Route) -> None:
            met[step] += 1
            if met[step] == 1:
                route.fulfill(status=200, content_type="text/html", body=page)
            else:
                route.continue_()

        return handle

    for step in steps:
        phone.page.route(step, portal(step))
    phone.presses()
    phone.says("The school’s server is busy.")
    # The phone asks again by itself, ever more rarely; a network that changes has it ask at once.
    for _ in range(100):
        if all(count >= 2 for count in met.values()):
            break
        phone.page.evaluate("dispatchEvent(new Event('online'))")
        phone.page.wait_for_timeout(200)
    all_arrived(phone)
    assert all(count >= 2 for count in met.values()), met
    ledger("200 from a captive portal", trials=1, lost=phone.lost())
    assert phone.lost() == 0


def test_the_answer_to_the_last_byte_is_lost(phone: Phone, ledger: Ledger):
    phone.work()
    phone.adds_file(recording())
    lost: list[str] = []

    def lose(route: Route) -> None:
        if route.request.method == "PATCH" and not lost:
            lost.append(route.request.url)
            route.fetch()
            route.abort("connectionreset")
        else:
            route.continue_()

    phone.page.route("**/uploads/**", lose)
    phone.presses()
    all_arrived(phone)
    assert lost
    assert Take.objects.count() == 1
    ledger("answer lost after the last byte", trials=1, lost=phone.lost())
    assert phone.lost() == 0


def test_two_tabs_press_at_once(phone: Phone, ledger: Ledger):
    phone.work()
    phone.adds_file(recording())
    other = Phone(page=phone.page.context.new_page(), assignment=phone.assignment, user=phone.user)
    other.work()
    expect(other.page.get_by_text("mine.wav will be turned in")).to_be_visible(timeout=PATIENCE)
    phone.presses()
    other.page.get_by_role("button", name="Turn in").click(force=True, no_wait_after=True)
    # Either tab may send it, and be fetched anew then: this is seen from a page that sends nothing.
    watcher = replace(phone, page=phone.page.context.new_page())
    watcher.page.goto("/work/")
    watcher.page.evaluate(STORE)
    becomes_true(watcher.page, ALL_RECEIVED, phone.user.pk)
    assert all(school_has(take) for take in phone.takes)
    assert (Take.objects.count(), TurnIn.objects.count(), CountingTake.objects.count()) == (1, 1, 1)
    ledger("two tabs", trials=1, lost=watcher.lost())
    assert watcher.lost() == 0


def test_two_devices_of_one_student(phone: Phone, page_at: PageAt, ledger: Ledger):
    laptop = Phone(page=page_at(PHONE, phone.user), assignment=phone.assignment, user=phone.user)
    for device, hertz in ((phone, 233), (laptop, 262)):
        device.work()
        device.adds_file(recording(hertz=hertz))
    phone.presses()
    laptop.presses()
    for device in (phone, laptop):
        all_arrived(device)
    assert Take.objects.count() == 2
    assert str(CountingTake.objects.get(turn_in__attempt=1).take_id) in phone.takes | laptop.takes
    lost = phone.lost() + laptop.lost()
    ledger("two devices", trials=2, lost=lost)
    assert lost == 0


def test_the_same_take_twice(phone: Phone, ledger: Ledger):
    """The same file is added for both lines and turned in, then added and turned in once more."""
    Assignment.objects.update(lines=["A", "B"])
    phone.work()
    phone.adds_file(recording(), "A")
    phone.adds_file(recording(), "B")
    phone.presses()
    all_arrived(phone)
    phone.work()
    phone.adds_file(recording(), "A")
    phone.presses()
    all_arrived(phone)
    assert len(phone.takes) == 3
    assert Take.objects.values("declared_sha256").distinct().count() == 1
    ledger("same take twice", trials=3, lost=phone.lost())
    assert phone.lost() == 0


def test_the_phone_is_full_while_recording(phone: Phone, ledger: Ledger):
    phone.work()
    origin = phone.page.evaluate("location.origin")
    quota = {"origin": origin, "quotaSize": 2_000_000}
    phone.page.context.new_cdp_session(phone.page).send("Storage.overrideQuotaForOrigin", quota)
    phone.starts_recording()
    phone.page.evaluate(STORE)
    phone.page.evaluate(FILL)
    phone.page.get_by_role("button", name="Keep this take").click(timeout=PATIENCE)
    phone.page.locator("[data-turn-in]").wait_for(timeout=PATIENCE)
    phone.page.evaluate(STORE)
    phone.presses()
    all_arrived(phone)
    ledger("quota exceeded", trials=1, lost=phone.lost())
    assert phone.lost() == 0


@pytest.mark.parametrize("days", [-1, 1])
def test_the_clock_is_wrong_by_a_day(phone: Phone, ledger: Ledger, days: int):
    wrong = f"const right = Date.now; Date.now = () => right() + {days * 24 * 3600 * 1000};"
    phone.page.add_init_script(wrong)
    phone.starts_recording()
    phone.stops_and_keeps()
    phone.presses()
    all_arrived(phone)
    take = Take.objects.get()
    assert abs(take.recorded_at - now()) < timedelta(minutes=2)
    assert TurnIn.objects.get().phone_time is None
    ledger("clock wrong by a day", trials=1, lost=phone.lost())
    assert phone.lost() == 0
