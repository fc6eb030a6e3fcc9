"""A student's pages without a network; and nobody's pages for the next child at the same computer."""

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection
from django.test import Client
from django.utils.timezone import now
from playwright.sync_api import Browser, BrowserContext, Page, expect
from pytest_django.live_server_helper import LiveServer

from bandroom.people.models import Band, Seat, Section, User
from submissions.models import Assignment, Step
from tests import factories
from tests.browser.conftest import PHONE, PageAt
from tests.browser.served import Server
from tests.browser.test_never_lost import becomes_true, is_kept

pytestmark = pytest.mark.django_db(transaction=True)
NOT_HERE = "No internet right now"
KEPT_PAGES = """
async () => {
  const pages = {};
  for (const name of await caches.keys()) {
    if (!name.startsWith("bandroom-pages-")) continue;
    const cache = await caches.open(name);
    const kept = (await cache.keys()).map((request) => new URL(request.url));
    pages[name] = kept.map(({ pathname, search }) => pathname + search).sort();
  }
  return pages;
}
"""
NOTHING_KEPT = f"async () => Object.keys(await ({KEPT_PAGES})()).length === 0"


@pytest.fixture
def assignment(band: Band, section: Section) -> Assignment:
    return factories.make_assignment(band=band, sections=[section], opens_at=now() - timedelta(days=1))


@pytest.fixture
def own_pages(assignment: Assignment) -> list[str]:
    one = f"/work/{assignment.pk}/"
    steps = [f"{one}steps/{step}/" for step in Step]
    other_line = [f"{step}?line=B" for step in steps if not step.endswith("/ready/")]
    records = [f"{one}record/{lines}/" for lines in ("A", "AB", "B")]
    return sorted(["/work/", one, *records, *steps, *other_line])


@pytest.fixture
def some_pages(assignment: Assignment) -> list[str]:
    """One of each kind."""
    one = f"/work/{assignment.pk}/"
    return ["/work/", one, f"{one}record/A/", f"{one}steps/play/?line=B"]


def sign_in(context: BrowserContext, user: User, url: str, *, shared: bool = False) -> None:
    client = Client()
    client.force_login(user, backend="bandroom.people.signing_in.NameBackend")
    if shared:
        session = client.session
        session.set_expiry(0)
        session.save()
    name = settings.SESSION_COOKIE_NAME
    context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": url}])


def all_kept(page: Page, student: User, pages: list[str]) -> None:
    """These and no others, under this student and no other."""
    is_kept(page, pages[-1])
    becomes_true(
        page,
        f"async (wanted) => JSON.stringify(await ({KEPT_PAGES})()) === JSON.stringify(wanted)",
        {f"bandroom-pages-{student.pk}": pages},
    )


def test_signing_out_forgets_every_page(
    page_at: PageAt, seat: Seat, own_pages: list[str], some_pages: list[str]
):
    page = page_at(PHONE, seat.student, service_workers="allow")
    page.goto("/work/")
    all_kept(page, seat.student, own_pages)
    kept = page.evaluate(
        """async () => {
          const all = [];
          for (const name of await caches.keys()) all.push(...(await (await caches.open(name)).keys()));
          return all.map((request) => new URL(request.url)).map(({ pathname, search }) => pathname + search);
        }"""
    )
    # Nothing but the student's pages, what they are built of, and the page for when there is nothing.
    others = [path for path in kept if path not in own_pages and not path.startswith("/static/")]
    assert sorted(others) == ["/who", "/work/not-here/en/", "/work/not-here/es/"]

    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/")
    becomes_true(page, NOTHING_KEPT, None)
    page.go_back()
    expect(page).to_have_url(re.compile("/sign-in/"))
    page.context.set_offline(True)
    for path in some_pages:
        page.goto(path)
        expect(page.get_by_role("heading", level=1)).to_have_text(NOT_HERE)


def test_the_next_child_sees_nothing_of_the_one_before(
    page_at: PageAt, live_server: LiveServer, seat: Seat, section: Section, own_pages: list[str]
):
    page = page_at(PHONE, seat.student, service_workers="allow")
    page.goto("/work/")
    all_kept(page, seat.student, own_pages)

    classmate = factories.make_seat(section=section, student=factories.make_user(first_name="Bo")).student
    sign_in(page.context, classmate, live_server.url)
    page.goto("/work/")
    all_kept(page, classmate, own_pages)
    page.context.set_offline(True)
    page.goto("/work/")
    expect(page.get_by_role("heading", level=1)).to_have_text("Hello, Bo")


def test_on_a_shared_laptop_pages_go_with_the_last_window(
    page_at: PageAt, live_server: LiveServer, seat: Seat, own_pages: list[str]
):
    page = page_at(PHONE, service_workers="allow")
    sign_in(page.context, seat.student, live_server.url, shared=True)
    page.goto("/work/")
    all_kept(page, seat.student, own_pages)
    page.context.set_offline(True)
    page.goto(own_pages[1])
    expect(page.get_by_role("heading", name="Stepping Stones")).to_be_visible()

    context = page.context
    page.close()
    later = context.new_page()
    later.goto("/work/")
    expect(later.get_by_role("heading", level=1)).to_have_text(NOT_HERE)
    becomes_true(later, NOTHING_KEPT, None)


@pytest.fixture
def school_server(live_server: LiveServer, tmp_path: Path) -> Iterator[Server]:
    """As a school runs it: production settings, static files under hashed names; on the test's database."""
    if connection.vendor != "sqlite":
        pytest.skip("one database is enough for names of static files")
    environment = os.environ | {
        "DJANGO_SETTINGS_MODULE": "bandroom.settings.production",
        "SECRET_KEY": settings.SECRET_KEY,
        "ALLOWED_HOSTS": "localhost",
        "DATABASE_URL": f"sqlite:///{connection.settings_dict['NAME']}",
        "BANDROOM_VAR": str(tmp_path),
        "HTTPS_REDIRECT": "off",
    }
    subprocess.run(
        [sys.executable, "manage.py", "collectstatic", "--noinput", "--verbosity", "0"],
        env=environment,
        cwd=settings.BASE_DIR,
        check=True,
    )
    server = Server(environment=environment)
    server.start()
    yield server
    server.stop()


def test_hashed_names_open_without_a_network(
    browser: Browser, school_server: Server, seat: Seat, own_pages: list[str], some_pages: list[str]
):
    context = browser.new_context(base_url=school_server.url, locale="en-US", service_workers="allow")
    sign_in(context, seat.student, school_server.url)
    page = context.new_page()
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on(
        "console", lambda message: errors.append(message.text) if "Security Policy" in message.text else None
    )
    page.goto("/work/")
    all_kept(page, seat.student, own_pages)

    school_server.stop()
    context.set_offline(True)
    failed: list[str] = []
    page.on("requestfailed", lambda request: failed.append(request.url))
    for path in some_pages:
        page.goto(path)
        expect(page.locator(".strip")).to_have_css("display", "flex")
    page.goto(some_pages[2])
    expect(page.get_by_role("button", name="Start", exact=True)).to_be_enabled()
    page.goto(some_pages[3])
    expect(page.get_by_role("button", name="Play along", exact=True)).to_be_enabled()
    page.goto("/")
    expect(page).to_have_url(f"{school_server.url}/work/")
    # The sign in the tab is the browser's own affair; it asks no service worker.
    assert [url for url in failed if not url.endswith(".svg")] == []
    assert errors == []
    context.close()
