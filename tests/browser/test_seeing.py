"""A student's pages for other eyes, in every state: roomy letters, strong contrast, twice the size."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
from django.utils.timezone import now
from playwright.sync_api import Page, Route, TimeoutError, expect

from bandroom.people.models import Band, Seat, Section
from submissions.models import Assignment, Step, Stuck
from tests import factories
from tests.browser.accessibility import assert_accessible
from tests.browser.conftest import PageAt
from tests.browser.microphone import SIMULATED
from tests.browser.screens import PHONE, resize

pytestmark = pytest.mark.django_db(transaction=True)
PATIENCE = 20_000
WIDTHS = (320, 390, 768, 1920)
FITS = "() => document.documentElement.scrollWidth <= document.documentElement.clientWidth"
TURN = """(on) => {
  for (const sheet of document.querySelectorAll("link[data-reading]")) sheet.media = on ? "all" : "not all";
}"""
SIZE = "(size) => document.documentElement.style.setProperty('font-size', size)"
# Words that are cut: a box that hides what runs over, with more in it than it shows.
CUT = """() => [...document.querySelectorAll("main *, .dock *, .strip *")]
    .filter((e) => e.checkVisibility() && !e.closest("svg, .vh, .finger-row, select, audio"))
    .filter((e) => !["visible", "auto"].includes(getComputedStyle(e).overflowX))
    .filter((e) => e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1)
    .map((e) => e.outerHTML.slice(0, 100))"""


@pytest.fixture
def assignment(band: Band, section: Section) -> Assignment:
    found = factories.make_assignment(band=band, sections=[section], opens_at=now() - timedelta(days=1))
    found.tempos = {"A": 240, "B": 240}
    found.tempo_ranges = {"A": [120, 240]}
    found.note = "Say the names in rhythm first. Then finger it, slowly."
    found.save()
    return found


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()


def fits(page: Page, what: str) -> None:
    try:
        page.wait_for_function(FITS, timeout=5000)
    except TimeoutError:
        pytest.fail(f"scrolls sideways: {what}")


def states(page: Page, assignment: Assignment) -> Iterator[str]:
    """Brings the page into one state after the other, and names it."""
    whole = f"/work/{assignment.pk}/"
    for step in Step:
        page.goto(f"{whole}steps/{step}/")
        yield step
    page.goto(f"{whole}record/A/")
    expect(page.get_by_role("button", name="Start", exact=True)).to_be_enabled()
    yield "recorder"
    page.evaluate("mic.error = { name: 'NotAllowedError' }")
    press(page, "Check my microphone")
    expect(page.locator("[data-help]")).to_be_visible()
    yield "no microphone"
    page.evaluate("mic.error = null")
    press(page, "Check my microphone")
    expect(page.get_by_role("heading", level=1)).to_have_text("The microphone hears you", timeout=PATIENCE)
    yield "microphone on"
    press(page, "Start")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Playing, bar", timeout=PATIENCE)
    yield "recording"
    press(page, "Stop")
    expect(page.get_by_role("heading", level=1)).to_have_text("Listen back", timeout=PATIENCE)
    yield "listening back"
    press(page, "Keep this take")
    expect(page.get_by_text("Take 1 will be turned in")).to_be_visible(timeout=PATIENCE)
    yield "a take kept"
    for path in ("/work/", "/work/earlier/", "/check-ins/", "/work/not-here/", "/sign-in/"):
        page.goto(path)
        yield path


def test_every_state_bears_both_switches_any_width_and_text_at_twice_its_size(
    page_at: PageAt, seat: Seat, assignment: Assignment
):
    Stuck.objects.create(assignment=assignment, seat=seat, line="A", bar=2, at=now())
    page = page_at(PHONE, seat.student, reduced_motion="reduce")
    page.add_init_script(SIMULATED)
    for state in states(page, assignment):
        page.evaluate(TURN, True)
        assert_accessible(page)
        for width in WIDTHS:
            resize(page, width)
            fits(page, f"{state} at {width} px")
        resize(page, PHONE)
        page.wait_for_function(f"() => innerWidth === {PHONE}")
        assert page.evaluate(CUT) == [], state
        page.evaluate(SIZE, "200%")
        fits(page, f"{state} at twice the size, roomy")
        page.evaluate(TURN, False)
        fits(page, f"{state} at twice the size")
        page.evaluate(SIZE, "")


def test_the_switches_work_are_kept_and_follow_into_a_page_from_before(
    page_at: PageAt, seat: Seat, assignment: Assignment
):
    page = page_at(PHONE, seat.student)
    page.goto(f"/work/{assignment.pk}/")
    plain = page.evaluate("getComputedStyle(document.querySelector('main p')).letterSpacing")
    press(page, "Roomy letters")
    expect(page.get_by_role("button", name="Roomy letters")).to_have_attribute("aria-pressed", "true")
    expect(page).to_have_url(page.url)
    # WCAG 2.2, 1.4.12: letters .12, words .16, lines 1.5 times the size of the letters, or more.
    spaced = page.evaluate(
        """() => {
          const { fontSize, letterSpacing, wordSpacing, lineHeight } = getComputedStyle(
            document.querySelector("main p"));
          const size = parseFloat(fontSize);
          return [letterSpacing, wordSpacing, lineHeight].map((one) => parseFloat(one) / size);
        }"""
    )
    assert plain == "normal"
    assert spaced[0] == pytest.approx(0.12)
    assert spaced[1] >= 0.16
    assert spaced[2] >= 1.5
    page.goto(f"/work/{assignment.pk}/record/A/")
    expect(page.locator('link[data-reading="roomy"]')).to_have_attribute("media", "all")

    # A page made while the switch stood otherwise, as the phone keeps them for a dead network.
    page.route("**/work/", lambda route: route.fulfill(response=route.fetch(headers={}), body=stale(route)))
    page.goto("/work/")
    expect(page.locator('link[data-reading="roomy"]')).to_have_attribute("media", "all")
    expect(page.get_by_role("button", name="Roomy letters")).to_have_attribute("aria-pressed", "true")


def stale(route: Route) -> str:
    headers = {
        name: value if name != "cookie" else value.replace("roomy", "")
        for name, value in route.request.all_headers().items()
    }
    body: str = route.fetch(headers=headers).text()
    assert 'media="not all" data-reading="roomy"' in body
    return body


def test_a_system_that_asks_for_more_contrast_gets_it(page_at: PageAt, seat: Seat, assignment: Assignment):
    page = page_at(PHONE, seat.student)
    page.goto(f"/work/{assignment.pk}/")
    ink = "getComputedStyle(document.body).color"
    soft = page.evaluate(ink)
    page.emulate_media(contrast="more")
    page.wait_for_function("() => getComputedStyle(document.body).color === 'rgb(0, 0, 0)'")
    assert soft != page.evaluate(ink)
    assert_accessible(page)
    page.emulate_media(contrast="no-preference", forced_colors="active")
    assert_accessible(page)
    for place in (".bars--days [aria-current]", ".steps__cell.is-now"):
        apart = page.evaluate(
            """(place) => {
              const ground = (e) => getComputedStyle(e).backgroundColor;
              const chosen = document.querySelector(place);
              return ground(chosen) !== ground(chosen.parentElement);
            }""",
            place,
        )
        assert apart, place
