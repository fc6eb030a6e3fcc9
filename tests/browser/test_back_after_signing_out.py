"""On a shared laptop "back" after signing out shows no page of a student, with the page cache on."""

from collections.abc import Iterator

import pytest
from django.conf import settings
from playwright.sync_api import Browser, Playwright, expect
from pytest_django.live_server_helper import LiveServer

from bandroom.people.models import Membership, Seat
from submissions.models import Assignment
from tests import machine
from tests.browser.conftest import FLAGS, WIDE
from tests.browser.screens import screen
from tests.signing_in import signed_in

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(scope="module")
def keeping(playwright: Playwright) -> Iterator[Browser]:
    """Chromium as people run it: playwright turns off the cache that keeps whole pages for "back"."""
    running = playwright.chromium.launch(
        executable_path=machine.chromium(), args=FLAGS, ignore_default_args=["--disable-back-forward-cache"]
    )
    yield running
    running.close()


@pytest.mark.parametrize("who", ["director", "student"])
def test_back_after_signing_out_shows_nothing_of_a_student(
    keeping: Browser,
    live_server: LiveServer,
    director: Membership,
    seat: Seat,
    assignment: Assignment,
    who: str,
):
    user, path = (
        (director.user, f"/assignments/{assignment.pk}/") if who == "director" else (seat.student, "/work/")
    )
    context = keeping.new_context(
        viewport=screen(WIDE), base_url=live_server.url, locale="en-US", service_workers="block"
    )
    cookie = signed_in(user).cookies[settings.SESSION_COOKIE_NAME]
    context.add_cookies(
        [{"name": settings.SESSION_COOKIE_NAME, "value": cookie.value, "url": live_server.url}]
    )
    page = context.new_page()
    page.goto(path)
    expect(page.locator("main")).to_contain_text("Stepping Stones")
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/**")

    page.go_back()

    expect(page.locator("main")).not_to_contain_text("Stepping Stones")
    expect(page.get_by_role("button", name="Go in")).to_be_visible()
    context.close()
