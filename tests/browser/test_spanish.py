"""Spanish in a real browser: what scripts say, what is kept for a dead network, and the switch itself."""

from collections.abc import Iterator

import pytest
from django.conf import settings
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from bandroom.people.models import Seat, Section
from submissions.models import Assignment
from tests import factories
from tests.browser.accessibility import assert_accessible
from tests.browser.conftest import PHONE, PageAt
from tests.browser.microphone import SIMULATED
from tests.browser.test_never_lost import is_kept
from tests.translation.marking import left_in_english, spanish_with_marks, texts_of

pytestmark = pytest.mark.django_db(transaction=True)
TYPED = (
    "Bandroom",
    "English",
    "Español",
    "Harrow Bend Band",
    "Stepping Stones",
    "Ada",
    "Tester",
    "Right notes",
)
PATIENCE = 20_000


@pytest.fixture
def marked() -> Iterator[None]:
    """Every translation between ⟦ and ⟧."""
    with spanish_with_marks():
        yield


def speaks_spanish(page: Page) -> None:
    assert left_in_english(texts_of(page.content()), data=TYPED) == []


def test_what_the_scripts_of_a_student_say_is_in_spanish(
    page_at: PageAt, live_server: LiveServer, section: Section, assignment: Assignment, marked: None
):
    """A flute, whose part has two flats to find."""
    page = page_at(PHONE, factories.make_seat(section=section, instrument="flute").student)
    page.context.add_cookies([{"name": settings.LANGUAGE_COOKIE_NAME, "value": "es", "url": live_server.url}])
    page.add_init_script(SIMULATED)
    work = f"/work/{assignment.pk}/"

    page.goto(f"{work}record/A/")
    start, state = page.locator('[data-do="start"]'), page.locator("[data-recorder]")
    expect(start).to_be_enabled()
    speaks_spanish(page)
    page.evaluate("mic.error = { name: 'NotAllowedError' }")
    page.locator('[data-do="check"]').click()
    expect(page.locator("[data-help] li").first).to_be_visible()
    speaks_spanish(page)
    page.evaluate("mic.error = null")
    page.locator('[data-do="check"]').click()
    expect(page.locator("[data-headline]")).to_have_text("⟦El micrófono te oye⟧", timeout=PATIENCE)
    speaks_spanish(page)
    start.click()
    expect(state).to_have_attribute("data-state", "recording", timeout=PATIENCE)
    speaks_spanish(page)
    expect(page.locator("[data-headline]")).to_contain_text("⟦Tocando", timeout=PATIENCE)
    speaks_spanish(page)
    page.locator('[data-do="stop"]').click()
    expect(page.locator("[data-headline]")).to_have_text("⟦Escúchate⟧", timeout=PATIENCE)
    speaks_spanish(page)
    page.locator('[data-do="keep"]').click()
    page.wait_for_url(f"**{work}")

    expect(page.locator("[data-takes=A] .take")).to_contain_text("⟦Toma 1⟧")
    speaks_spanish(page)
    page.locator("[data-turn-in-button]").click()
    expect(page.locator("[data-just-in]")).to_contain_text("⟦Entregado.", timeout=PATIENCE)
    speaks_spanish(page)

    page.goto(f"{work}steps/signs/")
    expect(page.locator(".peg").first).to_have_attribute("tabindex", "0")
    page.locator("[data-show-one]").click()
    page.locator(".only-narrow .peg").first.click()
    expect(page.locator("[data-answer]")).to_be_visible()
    speaks_spanish(page)

    page.goto(f"{work}steps/names/")
    page.locator("[data-start]").click()
    expect(page.locator("[data-beat-now]")).to_be_visible()
    speaks_spanish(page)
    page.locator("[data-start]").click()

    page.goto("/check-ins/?help=1")
    speaks_spanish(page)


def test_the_switch_is_kept_to_without_a_network_too(page_at: PageAt, seat: Seat, assignment: Assignment):
    page = page_at(PHONE, seat.student, service_workers="allow")
    heading = page.get_by_role("heading", level=1)
    work = f"/work/{assignment.pk}/"
    page.goto("/work/")
    is_kept(page, work)
    page.get_by_role("button", name="Español").click()
    expect(heading).to_have_text("Hola, Ada")
    expect(page.locator("html")).to_have_attribute("lang", "es")
    is_kept(page, work)
    assert_accessible(page)
    page.context.set_offline(True)
    page.goto("/work/")
    expect(heading).to_have_text("Hola, Ada")
    page.goto(work)
    expect(page.locator("html")).to_have_attribute("lang", "es")
    page.get_by_role("button", name="English").click()
    expect(heading).to_have_text("Ahora no hay internet")
    page.context.set_offline(False)
    page.goto("/work/")
    expect(heading).to_have_text("Hola, Ada")
    page.get_by_role("button", name="English").click()
    expect(heading).to_have_text("Hello, Ada")
