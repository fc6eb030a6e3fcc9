"""The recorder on a slow line: seconds from "Stop" to the receipt at 1 Mbit/s, and bytes a second of sound.

A real Chromium with a microphone made of a tone, gunicorn, and a line of 1 Mbit/s with 80 ms there and back.
A take of each length is recorded, stopped, kept and turned in without a pause, the pages loading over the
same line. Run: python -m tests.bench.bench_recorder
"""

import logging
import os
import sys
import time
from datetime import UTC, datetime, timedelta

from tests.bench.scratch import scratch_database

LENGTHS = (5, 20)
MEGABIT = 1_000_000 / 8
LINE = {"offline": False, "latency": 80, "downloadThroughput": MEGABIT, "uploadThroughput": MEGABIT}
PATIENCE = 120_000


def main() -> int:
    os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
    with scratch_database():
        return measure()


def measure() -> int:
    from django.conf import settings  # noqa: PLC0415 only after django.setup()
    from django.test import Client  # noqa: PLC0415 as above
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 as above

    from submissions.models import Take  # noqa: PLC0415 as above
    from tests import factories, machine  # noqa: PLC0415 as above
    from tests.bench.bench_upload import running_server  # noqa: PLC0415 as above
    from tests.browser.conftest import FLAGS  # noqa: PLC0415 as above
    from tests.browser.microphone import SIMULATED  # noqa: PLC0415 as above

    logging.disable(logging.WARNING)
    band = factories.make_band()
    section = factories.make_section(band=band)
    seat = factories.make_seat(section=section)
    opens = datetime.now(UTC) - timedelta(days=1)
    assignment = factories.make_assignment(band=band, sections=[section], opens_at=opens)
    # Of two lines, turning in one would be asked about.
    assignment.exercise.lines.filter(label="B").delete()
    client = Client()
    client.force_login(seat.student, backend="bandroom.people.signing_in.NameBackend")
    name = settings.SESSION_COOKIE_NAME
    print("recorded  bytes    bytes a second  from Stop to the receipt at 1 Mbit/s")
    with running_server() as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=machine.chromium(), args=FLAGS)
        context = browser.new_context(base_url=address, viewport={"width": 390, "height": 844})
        context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": address}])
        context.add_init_script(SIMULATED)
        page = context.new_page()
        page.goto("/work/")
        page.evaluate("() => navigator.serviceWorker.ready.then(() => true)")
        context.new_cdp_session(page).send("Network.emulateNetworkConditions", LINE)
        for seconds in LENGTHS:
            page.goto(f"/work/{assignment.pk}/record/A/")
            page.get_by_role("button", name="Start", exact=True).click()
            page.locator("[data-recorder][data-state=recording]").wait_for()
            page.wait_for_timeout(seconds * 1000)
            began = time.perf_counter()
            page.get_by_role("button", name="Stop", exact=True).click()
            page.get_by_role("button", name="Keep this take").click(timeout=PATIENCE)
            page.get_by_role("button", name="Turn in", exact=True).click(timeout=PATIENCE)
            page.locator("[data-just-in]").wait_for(timeout=PATIENCE)
            took = time.perf_counter() - began
            take = Take.objects.order_by("-declared_at")[0]
            length = page.evaluate(
                """async ([user, id]) => {
                  const store = await import("/static/submissions/js/store.js");
                  return (await store.takeOf(user, id)).seconds;
                }""",
                [seat.student.pk, str(take.pk)],
            )
            size = take.declared_bytes
            print(f"{length:6.1f} s  {size:7,}  {size / length:14,.0f}  {took:6.2f} s")
        browser.close()
    return 0 if Take.objects.filter(received_at__isnull=False).count() == len(LENGTHS) else 1


if __name__ == "__main__":
    sys.exit(main())
