"""A take in a real browser, from the first recorded second to the school's receipt: never lost.

Each test is one thing that happens to phones. What counts as lost: neither the browser nor the server has it.
"""

import hashlib
import os
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.files.storage import storages
from django.utils.timezone import now
from playwright.sync_api import BrowserContext, Page, Playwright, Route

from bandroom.people.models import Seat, User
from submissions.models import Assignment, CountingTake, Take, TurnIn
from tests import factories, machine
from tests.browser.conftest import FLAGS, PHONE
from tests.signing_in import signed_in

pytestmark = pytest.mark.django_db(transaction=True)
TOKEN = "t" * 32
# The press, the bytes, the receipt.
STEPS = ("**/turn-in/", "**/uploads/**", "**/takes/*/")
SECONDS = 8
A_SECOND = 9_000
# Loaded once in each page; a test talks to it by name.
SCRIPT = """
async (user) => {
  const [store, upload, turnin] = await Promise.all(
    ["store", "upload", "turnin"].map((name) => import(`/static/submissions/js/${name}.js`)));
  const seen = [];
  const sender = upload.createSender({ user, chunkBytes: 20_000, mostBytes: 20_000, firstWait: 100 });
  for (const name of ["waiting", "refused", "turned-in", "idle"]) {
    sender.addEventListener(name, ({ detail }) => seen.push({ name, why: detail.why, says: detail.says }));
  }
  globalThis.phone = {
    ...store, ...turnin, sender, seen, user,
    second: (n) => { // a second of "sound", the same each time it is made
      const bytes = new Uint8Array(A_SECOND);
      for (let i = 0, x = n * 7919 + 1; i < bytes.length; i += 1) bytes[i] = x = (x * 75 + 74) % 65537;
      return new Blob([bytes]);
    },
    async record(assignment, seconds, lines = ["A"]) {
      const take = await store.startTake({ user, assignment, lines, mime: "audio/webm", leadSeconds: 2 });
      for (let n = 0; n < seconds; n += 1) await store.addChunk(take.id, n, this.second(n));
      return take.id;
    },
    async kept(assignment, seconds, lines) {
      const id = await this.record(assignment, seconds, lines);
      return store.finishTake(user, id, { seconds });
    },
  };
}
""".replace("A_SECOND", str(A_SECOND))


@cache
def sound(seconds: int = SECONDS) -> bytes:
    """What the page's `second` makes, computed here again."""
    out = bytearray()
    for n in range(seconds):
        x = n * 7919 + 1
        for _ in range(A_SECOND):
            x = (x * 75 + 74) % 65537
            out.append(x & 0xFF)
    return bytes(out)


SHA = hashlib.sha256(sound()).hexdigest()


@dataclass(frozen=True, slots=True)
class Phone:
    page: Page
    assignment: Assignment
    user: User

    def load(self) -> None:
        self.page.goto("/nowhere")  # any page of this origin; the modules need none of their own
        self.page.evaluate(SCRIPT, self.user.pk)

    def run(self, script: str, *arguments: object) -> Any:
        return self.page.evaluate(f"async (a) => {{ {script} }}", list(arguments))

    def keep(self, seconds: int = SECONDS) -> str:
        return self.run("return (await phone.kept(a[0], a[1])).id", self.assignment.pk, seconds)

    def turn_in(self, take: str) -> None:
        self.run(
            "await phone.turnIn({user: phone.user, assignment: a[0], takes: {A: a[1]}, sender: null})",
            self.assignment.pk,
            take,
        )

    def send(self) -> None:
        """One pass over all that waits."""
        self.run("await phone.sender.now()")

    def seen(self) -> list[dict[str, Any]]:
        return self.run("return phone.seen.splice(0)")

    def waits(self) -> set[str]:
        return {event["why"] for event in self.seen() if event["name"] == "waiting"}

    def take(self, take: str) -> dict[str, Any]:
        return self.run("return phone.takeOf(phone.user, a[0])", take)

    def bytes_here(self, take: str) -> int:
        return self.run("return (await phone.blobOf({id: a[0], mime: ''})).size", take)

    def still_has(self, take: str, seconds: int = SECONDS) -> bool:
        return self.bytes_here(take) == seconds * A_SECOND


def school_has(take: str) -> bool:
    row = Take.objects.get(pk=take)
    if row.received_at is None:
        return False
    with storages["takes"].open(row.original, "rb") as file:
        return file.read() == sound()


@pytest.fixture
def assignment(section) -> Assignment:
    return factories.make_assignment(
        band=section.band,
        sections=[section],
        opens_at=now() - timedelta(days=1),
        due_at=now() + timedelta(days=1),
        closes_at=now() + timedelta(days=2),
    )


def with_token(context: BrowserContext, server: str) -> None:
    context.add_cookies([{"name": "csrftoken", "value": TOKEN, "url": server}])


def sign_in(context: BrowserContext, user: User, server: str) -> None:
    client = signed_in(user)
    name = settings.SESSION_COOKIE_NAME
    context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": server}])


@pytest.fixture
def phone(page_at, live_server, seat: Seat, assignment: Assignment) -> Phone:
    page = page_at(PHONE, seat.student)
    with_token(page.context, live_server.url)
    made = Phone(page=page, assignment=assignment, user=seat.student)
    made.load()
    return made


@pytest.fixture
def faults(phone: Phone) -> Callable[..., list[str]]:
    """`faults("**/uploads/**", handler, method="PATCH", times=1)`: the first requests meet the handler."""

    def install(
        pattern: str, handler: Callable[[Route], None], *, method: str | None = None, times: int = 1
    ) -> list[str]:
        met: list[str] = []

        def handle(route: Route) -> None:
            if (method and route.request.method != method) or len(met) >= times:
                route.fallback()
                return
            met.append(route.request.method)
            handler(route)

        phone.page.route(pattern, handle)
        return met

    return install


# The way without trouble.


def test_announced_first_then_sent_then_let_go(phone):
    order: list[str] = []
    phone.page.on("request", lambda request: order.append(f"{request.method} {request.url.split('/')[3]}"))
    take = phone.keep()
    phone.turn_in(take)

    phone.send()

    assert order[0] == "POST work"
    assert order[1] == "HEAD uploads"
    assert [step for step in order if step.startswith("PATCH")] == ["PATCH uploads"] * 4
    assert order[-1] == "GET takes"
    assert school_has(take)
    assert (phone.take(take)["state"], phone.bytes_here(take)) == ("received", 0)
    assert [event["name"] for event in phone.seen()] == ["turned-in", "idle"]
    row = Take.objects.get(pk=take)
    assert (row.declared_sha256, row.lead_seconds, row.lines) == (SHA, 2.0, ["A"])
    assert str(CountingTake.objects.get().take_id) == take
    assert phone.run("return (await phone.pendingTurnIns(phone.user)).length") == 0


def test_a_file_from_elsewhere_is_copied_here_first(phone):
    take = phone.run(
        """const parts = []; for (let n = 0; n < a[1]; n += 1) parts.push(phone.second(n));
        const file = new File(parts, "../../🎺".repeat(40), {type: "audio/mp4"});
        return (await phone.keepFile({user: phone.user, assignment: a[0], lines: ["A"], file})).id""",
        phone.assignment.pk,
        SECONDS,
    )
    assert phone.still_has(take)

    phone.turn_in(take)
    phone.send()

    assert school_has(take)
    assert Take.objects.get().origin == "file"


def test_an_empty_recording_or_file_is_no_take(phone):
    for script in (
        "const id = await phone.record(a[0], 0); await phone.finishTake(phone.user, id)",
        """await phone.keepFile({user: phone.user, assignment: a[0], lines: ["A"],
           file: new File([], "empty.m4a")})""",
    ):
        caught = f"try {{ {script} }} catch (error) {{ return error.constructor.name }}"
        assert phone.run(caught, phone.assignment.pk) == "EmptyTake"
    assert phone.run("return (await phone.takesOf(phone.user)).length") == 0


def test_a_large_take_is_hashed_and_sent_piece_by_piece(phone):
    """30 MB in rows of a megabyte; our own SHA-256 against Python's."""
    take = phone.run(
        """const take = await phone.startTake({user: phone.user, assignment: a[0], lines: ["A"]});
        for (let n = 0; n < 30; n += 1) await phone.addChunk(take.id, n, new Uint8Array(1e6).fill(n).buffer);
        phone.sender.mostBytes = 4_000_000;
        return (await phone.finishTake(phone.user, take.id)).id""",
        phone.assignment.pk,
    )
    expected = hashlib.sha256(b"".join(bytes([n]) * 1_000_000 for n in range(30))).hexdigest()
    assert phone.take(take)["sha256"] == expected

    phone.turn_in(take)
    phone.send()

    assert Take.objects.get().received_at is not None
    assert phone.take(take)["state"] == "received"


# What happens to phones.


def test_the_page_is_reloaded_while_recording(phone):
    take = phone.run("return phone.record(a[0], 5)", phone.assignment.pk)

    phone.load()
    recovered = phone.run("return phone.recoverTakes(phone.user)")

    assert [(found["id"], found["state"], found["bytes"]) for found in recovered] == [
        (take, "kept", 5 * A_SECOND)
    ]
    assert recovered[0]["sha256"] == hashlib.sha256(sound(5)).hexdigest()


def test_another_tab_that_still_records_is_left_alone(phone):
    take = phone.run(
        "const id = await phone.record(a[0], 2); phone.release = phone.holdRecording(id); return id",
        phone.assignment.pk,
    )
    other = Phone(page=phone.page.context.new_page(), assignment=phone.assignment, user=phone.user)
    other.load()

    assert other.run("return phone.recoverTakes(phone.user)") == []
    assert phone.take(take)["state"] == "recording"

    phone.run("phone.release()")
    until = time.monotonic() + 10
    while not (recovered := other.run("return phone.recoverTakes(phone.user)")):
        assert time.monotonic() < until, "the take of a tab that let go was not recovered"
        other.page.wait_for_timeout(50)
    assert [found["id"] for found in recovered] == [take]


def test_the_browser_is_killed_while_recording(
    playwright: Playwright, live_server, tmp_path, seat, assignment
):
    folder = tmp_path / "profile"

    def start() -> tuple[BrowserContext, Phone]:
        context = playwright.chromium.launch_persistent_context(
            folder, executable_path=machine.chromium(), args=FLAGS, base_url=live_server.url
        )
        with_token(context, live_server.url)
        sign_in(context, seat.student, live_server.url)
        made = Phone(page=context.new_page(), assignment=assignment, user=seat.student)
        made.load()
        return context, made

    _context, phone = start()
    take = phone.run("return phone.record(a[0], a[1])", assignment.pk, SECONDS)
    mine = [pid for pid in processes() if str(folder) in command_of(pid)]
    assert mine
    for pid in mine:
        os.kill(pid, signal.SIGKILL)
    until = time.monotonic() + 10
    while any(str(folder) in command_of(pid) for pid in processes()) and time.monotonic() < until:
        time.sleep(0.05)

    context, phone = start()
    assert [found["id"] for found in phone.run("return phone.recoverTakes(phone.user)")] == [take]
    phone.turn_in(take)
    phone.send()
    context.close()

    assert school_has(take)


def processes() -> list[int]:
    return [int(entry.name) for entry in Path("/proc").iterdir() if entry.name.isdecimal()]


def command_of(pid: int) -> str:
    try:
        return Path(f"/proc/{pid}/cmdline").read_text(errors="replace")
    except OSError:
        return ""


def test_no_network_before(phone):
    take = phone.keep()
    phone.page.context.set_offline(True)
    phone.turn_in(take)
    phone.send()
    assert phone.waits() == {"offline"}
    assert phone.still_has(take)
    assert phone.run("return (await phone.pendingTurnIns(phone.user)).length") == 1

    phone.page.context.set_offline(False)
    phone.send()

    assert school_has(take)
    assert TurnIn.objects.get().state == TurnIn.State.WAITING


def test_it_goes_by_itself_when_the_network_is_back(phone):
    take = phone.keep()
    phone.page.context.set_offline(True)
    phone.turn_in(take)
    phone.run("await phone.sender.start()")

    phone.page.context.set_offline(False)
    phone.page.wait_for_function("() => phone.seen.some((event) => event.name === 'idle')")

    assert school_has(take)


def test_a_press_made_hours_ago_tells_the_phones_time(phone):
    take = phone.keep()
    phone.turn_in(take)
    pressed = phone.run(
        """const [press] = await phone.pendingTurnIns(phone.user);
        press.pressedAt -= 3 * 3600 * 1000; await phone.putPress(press); return press.pressedAt"""
    )

    phone.send()

    row = TurnIn.objects.get()
    assert row.phone_time.timestamp() == pytest.approx(pressed / 1000, abs=5)
    assert row.turned_in_at - row.phone_time > timedelta(hours=2)


@pytest.mark.parametrize("part", [0, 1, 3])
def test_the_network_goes_during_a_piece(phone, faults, part):
    take = phone.keep()
    phone.turn_in(take)
    count = [0]

    def cut(route: Route) -> None:
        count[0] += 1
        if count[0] - 1 == part:
            route.abort("connectionreset")
        else:
            route.continue_()

    faults("**/uploads/**", cut, method="PATCH", times=part + 1)
    phone.send()
    assert phone.still_has(take)
    assert phone.waits() == {"server"}

    phone.send()

    assert school_has(take)


@pytest.mark.parametrize("status", [500, 503])
def test_the_server_fails_at_each_step(phone, faults, status):
    take = phone.keep()
    phone.turn_in(take)
    for step in STEPS:
        met = faults(step, lambda route: route.fulfill(status=status, body="<h1>Server Error</h1>"))
        phone.send()
        assert met
        assert phone.still_has(take)
        assert phone.waits() == {"server"}

    phone.send()
    assert school_has(take)


PORTAL = "<html><title>Welcome to our free Wi-Fi</title>accept our terms</html>"


@pytest.mark.parametrize(
    "answer",
    [
        {"status": 200, "content_type": "text/html", "body": PORTAL},
        {"status": 200, "content_type": "application/json", "body": "{}"},
        {"status": 200, "content_type": "application/json", "body": "null"},
        {"status": 404, "content_type": "text/html", "body": PORTAL},
        {"status": 302, "headers": {"Location": "http://portal.example/"}},
        {"status": 302, "headers": {"Location": "/sign-in/"}},
    ],
    ids=["page", "object", "null", "not found", "elsewhere", "sign-in page"],
)
def test_a_page_of_somebody_else_is_no_receipt(phone, faults, answer):
    take = phone.keep()
    phone.turn_in(take)
    for step in STEPS:
        met = faults(step, lambda route: route.fulfill(**answer))
        phone.send()
        assert met
        assert phone.still_has(take)
        assert phone.waits() == {"server"}

    phone.send()
    assert school_has(take)
    assert phone.bytes_here(take) == 0


def test_a_wrong_receipt_frees_nothing(phone, faults):
    take = phone.keep()
    phone.turn_in(take)
    wrong = {"id": take, "state": "received", "sha256": "0" * 64}
    faults("**/takes/*/", lambda route: route.fulfill(json=wrong), times=99)

    phone.send()

    assert phone.still_has(take)
    assert phone.take(take)["state"] == "queued"


def test_the_answer_to_the_last_byte_is_lost(phone, faults):
    take = phone.keep()
    phone.turn_in(take)
    pieces = [0]

    def lose_the_fourth(route: Route) -> None:
        pieces[0] += 1
        if pieces[0] == 4:
            route.fetch()
            route.abort("connectionreset")
        else:
            route.continue_()

    faults("**/uploads/**", lose_the_fourth, method="PATCH", times=4)
    phone.send()
    assert school_has(take)
    assert phone.still_has(take)

    phone.send()

    assert (phone.take(take)["state"], phone.bytes_here(take)) == ("received", 0)
    assert Take.objects.count() == 1


def test_the_answer_to_the_press_is_lost(phone, faults):
    take = phone.keep()
    phone.turn_in(take)

    def lose(route: Route) -> None:
        route.fetch()
        route.abort("connectionreset")

    faults("**/turn-in/", lose)
    phone.send()
    stamp = TurnIn.objects.get().turned_in_at
    phone.send()

    assert TurnIn.objects.get().turned_in_at == stamp
    assert school_has(take)


def test_bytes_that_change_on_the_way_are_sent_again(phone, faults):
    take = phone.keep()
    phone.turn_in(take)

    def spoil(route: Route) -> None:
        route.continue_(post_data=b"?" + route.request.post_data_buffer[1:])

    faults("**/uploads/**", spoil, method="PATCH")

    phone.send()

    assert school_has(take)
    assert phone.take(take)["state"] == "received"


def test_the_sign_in_ends_during_an_upload(phone, faults, live_server):
    take = phone.keep()
    phone.turn_in(take)
    context = phone.page.context

    def sign_out(route: Route) -> None:
        route.continue_()
        context.clear_cookies(name=settings.SESSION_COOKIE_NAME)

    faults("**/uploads/**", sign_out, method="PATCH")
    phone.send()
    assert phone.waits() == {"sign-in"}
    assert phone.still_has(take)

    sign_in(context, phone.user, live_server.url)
    phone.send()

    assert school_has(take)


def test_another_child_signs_in_on_the_same_computer(phone, live_server, section):
    take = phone.keep()
    phone.turn_in(take)
    classmate = factories.make_seat(section=section).student
    sign_in(phone.page.context, classmate, live_server.url)

    phone.send()
    assert phone.waits() == {"other-student"}
    assert phone.still_has(take)
    assert not Take.objects.exists()
    # The classmate's own page sees nothing of it and sends nothing of it.
    page = Phone(page=phone.page.context.new_page(), assignment=phone.assignment, user=classmate)
    page.load()
    assert page.run("return phone.takesOf(phone.user)") == []
    assert page.take(take) is None
    page.send()
    assert not Take.objects.exists()

    sign_in(phone.page.context, phone.user, live_server.url)
    for _ in range(3):  # on a busy machine a pass may give up and be followed by the next, as on any phone
        phone.send()
        if Take.objects.exists():
            break
    assert school_has(take)


def test_two_tabs_send_it_once(phone):
    take = phone.keep()
    phone.turn_in(take)
    other = Phone(page=phone.page.context.new_page(), assignment=phone.assignment, user=phone.user)
    other.load()
    pieces: list[str] = []
    for page in (phone.page, other.page):
        page.on(
            "request", lambda request: pieces.append(request.method) if request.method == "PATCH" else None
        )

    phone.run("phone.sent = phone.sender.now()")
    other.run("phone.sent = phone.sender.now()")
    for tab in (phone, other):
        tab.run("await phone.sent")
        tab.page.wait_for_function("() => phone.seen.some((event) => event.name === 'idle')")

    assert len(pieces) == 4
    assert school_has(take)
    assert other.take(take)["state"] == "received"


def test_the_same_take_twice(phone):
    take = phone.keep()
    phone.run("await Promise.all([phone.sender.queue(a[0]), phone.sender.queue(a[0])])", take)
    phone.turn_in(take)
    phone.turn_in(take)

    phone.send()

    assert school_has(take)
    assert (Take.objects.count(), TurnIn.objects.count()) == (1, 1)


def test_the_phone_is_full(phone):
    """Some seconds fit; then what the browser may store is used up."""
    page = phone.page
    quota = {"origin": page.evaluate("location.origin"), "quotaSize": 2_000_000}
    page.context.new_cdp_session(page).send("Storage.overrideQuotaForOrigin", quota)
    take = phone.run("return phone.record(a[0], a[1])", phone.assignment.pk, SECONDS)

    full = phone.run(
        """const noise = () => new Float64Array(112_500).map(Math.random).buffer;
        try { for (let n = a[1]; n < 100; n += 1) await phone.addChunk(a[0], n, noise()); return "never" }
        catch (error) { return phone.isFull(error) }""",
        take,
        SECONDS,
    )
    assert full is True

    # Also the few bytes that say so find room.
    finished = phone.run("return phone.finishTake(phone.user, a[0], {seconds: 8})", take)
    assert finished["bytes"] >= SECONDS * A_SECOND
    phone.turn_in(take)
    phone.send()
    assert phone.take(take)["state"] == "received"


@pytest.mark.parametrize("days", [-1, 1])
def test_the_clock_is_a_day_wrong(phone, days):
    phone.page.add_init_script(f"const real = Date.now; Date.now = () => real() + {days * 24 * 3600 * 1000};")
    phone.load()
    take = phone.keep()
    phone.turn_in(take)

    phone.send()

    assert school_has(take)
    row = Take.objects.get()
    assert abs(row.recorded_at - now()) < timedelta(minutes=1)
    assert TurnIn.objects.get().phone_time is None


# A plain no of the school's.


def test_a_closed_assignment_keeps_the_take_and_says_why(phone):
    take = phone.keep()
    posting = phone.assignment.postings.get()
    posting.due_at, posting.closes_at = now() - timedelta(hours=2), now() - timedelta(hours=1)
    posting.save()
    phone.turn_in(take)

    phone.send()

    says = "This assignment is closed; your recording stays on this phone, so ask your director."
    assert [event["says"] for event in phone.seen() if event["name"] == "refused"] == [says]
    assert phone.still_has(take)
    assert (phone.take(take)["state"], phone.take(take)["says"]) == ("kept", says)
    assert phone.run("return (await phone.pendingTurnIns(phone.user)).length") == 0


def test_a_take_is_dropped_only_before_it_was_announced(phone):
    first, second = phone.keep(2), phone.keep()
    assert phone.run("return phone.dropTake(phone.user, a[0])", first) is True
    assert phone.take(first) is None
    assert phone.bytes_here(first) == 0

    phone.turn_in(second)
    assert phone.run("return phone.dropTake(phone.user, a[0])", second) is False
    phone.send()
    assert school_has(second)
