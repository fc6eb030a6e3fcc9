"""A real Chromium on a real server. Every page is watched: no request leaves, nothing breaks the CSP."""

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.utils.timezone import now
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, Request, sync_playwright
from pytest_django.live_server_helper import LiveServer

from bandroom.people.models import Band, Section, User
from submissions.models import Assignment
from tests import factories, machine
from tests.browser import accessibility
from tests.browser.screens import PHONE as PHONE
from tests.browser.screens import WIDE as WIDE
from tests.browser.screens import is_touched, screen
from tests.signing_in import signed_in

# Playwright's own event loop runs in this thread; Django would refuse the database beside it.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--autoplay-policy=no-user-gesture-required",
]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)


@dataclass(slots=True)
class Watch:
    """What a page did that it must not do."""

    home: str
    strays: list[str] = field(default_factory=list)
    violations: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)

    def on_request(self, request: Request) -> None:
        if not request.url.startswith((self.home, "data:", "blob:")):
            self.strays.append(request.url)

    def on_console(self, text: str) -> None:
        if "Content Security Policy" in text:
            self.violations.append(text)

    def check(self) -> None:
        assert self.strays == [], f"requests to elsewhere: {self.strays}"
        assert self.violations == [], f"CSP violations: {self.violations}"
        assert self.errors == [], f"uncaught errors in a page: {self.errors}"


@pytest.fixture(scope="session")
def playwright() -> Iterator[Playwright]:
    with sync_playwright() as running:
        yield running


@pytest.fixture(scope="session")
def browser(playwright: Playwright) -> Iterator[Browser]:
    path = machine.chromium()
    if path is None:
        pytest.skip("no Chromium on this machine")
    running = playwright.chromium.launch(executable_path=path, args=FLAGS)
    yield running
    running.close()


@pytest.fixture
def watch(live_server: LiveServer) -> Iterator[Watch]:
    """Checked after every browser test."""
    watching = Watch(home=live_server.url)
    yield watching
    watching.check()


type PageAt = Callable[..., Page]


@pytest.fixture
def page_at(browser: Browser, live_server: LiveServer, watch: Watch) -> Iterator[PageAt]:
    """`page_at(390, user)` opens a page of that width, signed in as `user` if given."""
    contexts: list[BrowserContext] = []

    def opened(width: int, user: User | None = None, **options: object) -> Page:
        context = browser.new_context(
            viewport=screen(width),
            base_url=live_server.url,
            has_touch=is_touched(width),
            locale="en-US",
            # Keeping pages for a dead network has tests of its own; elsewhere it would fetch each page twice.
            **({"service_workers": "block"} | options),
        )
        contexts.append(context)
        if user is not None:
            cookie = signed_in(user).cookies[settings.SESSION_COOKIE_NAME]
            context.add_cookies(
                [{"name": settings.SESSION_COOKIE_NAME, "value": cookie.value, "url": live_server.url}]
            )
        page = context.new_page()
        page.on("request", lambda request: watch.on_request(request))
        page.on("console", lambda message: watch.on_console(message.text))
        page.on("pageerror", lambda error: watch.errors.append(str(error)))
        return page

    yield opened
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def assert_accessible() -> Callable[[Page], None]:
    """On a wide screen and on a phone: no finding by axe of WCAG 2.2 A and AA, and no sideways scrolling."""
    return accessibility.assert_accessible


@pytest.fixture
def assignment(band: Band, section: Section) -> Assignment:
    """Open since yesterday; both lines so quick that a take is short."""
    found = factories.make_assignment(band=band, sections=[section], opens_at=now() - timedelta(days=1))
    found.tempos = {"A": 240, "B": 240}
    found.save()
    return found
