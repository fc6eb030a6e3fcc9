"""A student's pages on an old phone: first paint, bytes over the wire, the longest task while counting in.

Chromium with its processor slowed 6 times and a line of 1.6 Mbit/s with 150 ms there and back, a fresh
browser for each page; gunicorn with a school's settings, so that static files are compressed and carry hashed
names. For each page: first contentful paint, kilobytes without and of fonts, layout shift, and the longest
task while it loads; then the longest task from pressing Start to the second bar. With a folder that holds
Lighthouse (see DEVELOPERS.md) also its scores. Run: python -m tests.bench.bench_student [FOLDER]
"""

import json
import logging
import os
import shutil
import subprocess
import sys
import tempfile
import urllib.request
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from playwright.sync_api import BrowserContext, Page, sync_playwright

from tests import machine
from tests.bench.scratch import scratch_database
from tests.browser.served import Server, free_port

SLOWER = 6
LINE = {
    "offline": False,
    "latency": 150,
    "downloadThroughput": 1_600_000 / 8,
    "uploadThroughput": 750_000 / 8,
}
LONG_TASK_MS = 50  # what browsers call long
PATIENCE = 120_000
# Kept from the first moment on: paints, shifts, long tasks.
WATCH = """
globalThis.seen = { shift: 0, tasks: [] };
new PerformanceObserver((list) => {
  for (const shift of list.getEntries()) if (!shift.hadRecentInput) seen.shift += shift.value;
}).observe({ type: "layout-shift", buffered: true });
new PerformanceObserver((list) => {
  for (const task of list.getEntries()) seen.tasks.push([task.startTime, task.duration]);
}).observe({ type: "longtask", buffered: true });
"""
FIRST_PAINT = "() => performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? null"
LONGEST_SINCE = "(since) => Math.max(0, ...seen.tasks.filter(([at]) => at >= since).map(([, took]) => took))"
AUDITS = ("performance", "accessibility", "best-practices")


def main() -> int:
    os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
    with scratch_database():
        return measure(lighthouse=Path(sys.argv[1]) if len(sys.argv) > 1 else None)


def measure(*, lighthouse: Path | None) -> int:
    from tests.browser.microphone import SIMULATED  # noqa: PLC0415 only after django.setup()

    logging.disable(logging.WARNING)
    seat, assignment = somebody_with_work()
    pages = pages_of(assignment)
    cookie = signed_in(seat)
    with school_server() as server, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=machine.chromium(), args=flags())
        warm(server, cookie, pages)
        print(f"{'page':<10} {'first paint':>12} {'kB':>7} {'fonts kB':>9} {'shift':>7} {'longest task':>13}")
        for name, path in pages.items():
            context = browser.new_context(base_url=server.url, viewport={"width": 390, "height": 844})
            context.add_cookies([cookie | {"url": server.url}])
            print(f"{name:<10} {row(context, path)}")
            context.close()
        context = browser.new_context(base_url=server.url, viewport={"width": 390, "height": 844})
        context.add_cookies([cookie | {"url": server.url}])
        context.add_init_script(SIMULATED)
        print(f"longest task from Start to bar 2: {counting_in(context, pages['record']):.0f} ms")
        browser.close()
        if lighthouse is not None:
            print(f"{'Lighthouse':<10} " + " ".join(f"{name:>14}" for name in AUDITS))
            for name, path in pages.items():
                scores = audit(lighthouse, server.url + path, cookie=f"{cookie['name']}={cookie['value']}")
                print(f"{name:<10} " + " ".join(f"{scores[each]:>14.0f}" for each in AUDITS))
    return 0


def somebody_with_work() -> tuple[Any, Any]:
    from tests import factories  # noqa: PLC0415 only after django.setup()

    band = factories.make_band()
    section = factories.make_section(band=band)
    seat = factories.make_seat(section=section)
    opens = datetime.now(UTC) - timedelta(days=1)
    return seat, factories.make_assignment(band=band, sections=[section], opens_at=opens)


def pages_of(assignment: Any) -> dict[str, str]:
    from submissions.models import Step  # noqa: PLC0415 only after django.setup()

    whole = f"/work/{assignment.pk}/"
    steps = {step.value: f"{whole}steps/{step.value}/" for step in Step}
    return {"my work": "/work/", "one work": whole, **steps, "record": f"{whole}record/A/"}


def signed_in(seat: Any) -> dict[str, str]:
    from django.conf import settings  # noqa: PLC0415 only after django.setup()
    from django.test import Client  # noqa: PLC0415 as above

    client = Client()
    client.force_login(seat.student, backend="bandroom.people.signing_in.NameBackend")
    name = settings.SESSION_COOKIE_NAME
    return {"name": name, "value": client.cookies[name].value}


@contextmanager
def school_server() -> Iterator[Server]:
    """As a school runs it, on the scratch database."""
    from django.conf import settings  # noqa: PLC0415 only after django.setup()
    from django.db import connection  # noqa: PLC0415 as above

    with tempfile.TemporaryDirectory() as var:
        environment = os.environ | {
            "DJANGO_SETTINGS_MODULE": "bandroom.settings.production",
            "SECRET_KEY": settings.SECRET_KEY,
            "ALLOWED_HOSTS": "localhost",
            "DATABASE_URL": f"sqlite:///{connection.settings_dict['NAME']}",
            "BANDROOM_VAR": var,
            "HTTPS_REDIRECT": "off",
        }
        command = [sys.executable, "manage.py", "collectstatic", "--noinput", "--verbosity", "0"]
        subprocess.run(command, env=environment, cwd=settings.BASE_DIR, check=True)
        server = Server(environment=environment)
        server.start()
        try:
            yield server
        finally:
            server.stop()


def warm(server: Server, cookie: dict[str, str], pages: dict[str, str]) -> None:
    """Each part is engraved once, for the first who asks: that is measured by bench_music."""
    for path in pages.values():
        headers = {"Cookie": "{name}={value}".format(**cookie)}
        request = urllib.request.Request(server.url + path, headers=headers)  # noqa: S310 our own server
        with urllib.request.urlopen(request, timeout=60) as answer:  # noqa: S310 as above
            answer.read()


def flags() -> list[str]:
    from tests.browser.conftest import FLAGS  # noqa: PLC0415 marks its tests, so not at the start

    return FLAGS


def slowed(context: BrowserContext) -> tuple[Page, Counter[str]]:
    """A page on the slow line; the counter fills with bytes over the wire by kind."""
    page = context.new_page()
    page.add_init_script(WATCH)
    wire: Counter[str] = Counter()
    kinds: dict[str, str] = {}
    tool = context.new_cdp_session(page)
    tool.send("Network.enable")
    tool.send("Network.emulateNetworkConditions", LINE)
    tool.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    tool.on("Network.responseReceived", lambda told: kinds.__setitem__(told["requestId"], told["type"]))
    tool.on(
        "Network.loadingFinished",
        lambda told: wire.update({kinds.get(told["requestId"], "other"): int(told["encodedDataLength"])}),
    )
    return page, wire


def row(context: BrowserContext, path: str) -> str:
    page, wire = slowed(context)
    page.goto(path, wait_until="load", timeout=PATIENCE)
    page.wait_for_timeout(3000)
    painted = page.evaluate(FIRST_PAINT)
    shift = page.evaluate("() => seen.shift")
    longest = page.evaluate(LONGEST_SINCE, 0)
    fonts = wire.pop("Font", 0)
    return f"{painted:9.0f} ms {wire.total() / 1000:7.1f} {fonts / 1000:9.1f} {shift:7.3f} {longest:10.0f} ms"


def counting_in(context: BrowserContext, path: str) -> float:
    page, _ = slowed(context)
    page.goto(path, timeout=PATIENCE)
    page.get_by_role("button", name="Start", exact=True).click(timeout=PATIENCE)
    pressed = page.evaluate("() => performance.now()")
    page.get_by_text("Playing, bar 2 of").wait_for(timeout=PATIENCE)
    longest: float = page.evaluate(LONGEST_SINCE, pressed)
    return longest


def audit(folder: Path, address: str, *, cookie: str) -> dict[str, float]:
    """Scores of 100 from Lighthouse's own phone profile."""
    program = folder / "node_modules" / ".bin" / "lighthouse"
    with tempfile.TemporaryDirectory() as home:
        answer = subprocess.run(
            [
                str(program),
                address,
                "--output=json",
                "--quiet",
                f"--port={free_port()}",
                f"--only-categories={','.join(AUDITS)}",
                f"--extra-headers={json.dumps({'Cookie': cookie})}",
                f"--chrome-flags=--headless {' '.join(flags())} --user-data-dir={home}",
            ],
            env=os.environ | {"CHROME_PATH": str(machine.chromium()), "PATH": os.environ["PATH"]},
            capture_output=True,
            check=True,
        )
        shutil.rmtree(home, ignore_errors=True)
        Path(home).mkdir(exist_ok=True)
    told = json.loads(answer.stdout)
    if told["finalDisplayedUrl"] != address:
        raise RuntimeError(f"{address} led to {told['finalDisplayedUrl']}")
    return {name: 100 * told["categories"][name]["score"] for name in AUDITS}


if __name__ == "__main__":
    sys.exit(main())
