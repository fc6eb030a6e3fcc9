"""The screens every page is looked at on, and how a page goes from one to another."""

import time
from weakref import WeakKeyDictionary

from playwright.sync_api import CDPSession, Page, ViewportSize, expect

WIDE, PHONE = 1440, 390
PATIENCE_SECONDS = 40
HEIGHTS = {WIDE: 900, PHONE: 844}
_FINGERS: WeakKeyDictionary[Page, CDPSession] = WeakKeyDictionary()


def screen(width: int) -> ViewportSize:
    return {"width": width, "height": HEIGHTS.get(width, 900)}


def is_touched(width: int) -> bool:
    """A narrow screen is touched with a finger."""
    return width < 900


def resize(page: Page, width: int) -> None:
    """The same page on another screen."""
    page.set_viewport_size(screen(width))
    # What a session set ends with it, so it is kept as long as the page.
    if page not in _FINGERS:
        _FINGERS[page] = page.context.new_cdp_session(page)
    _FINGERS[page].send("Emulation.setTouchEmulationEnabled", {"enabled": is_touched(width)})
    page.wait_for_function("(width) => innerWidth === width", arg=width)


ALL_IN = "Turned in. Your school has every take."


def press_turn_in(page: Page, *, part: str = "") -> None:
    """`part`: of these lines alone, which the page asks about once."""
    page.get_by_role("button", name="Turn in", exact=True).click()
    if part:
        page.get_by_role("button", name=f"Turn in {part} now").click()


def assert_turned_in(page: Page, *, timeout: float, says: str = ALL_IN) -> None:
    """A student's page was fetched anew after the press, and says what the school has."""
    said = page.locator("[data-just-in]")
    expect(said).to_have_text(says, timeout=timeout)
    expect(said).to_be_visible(timeout=timeout)
    page.locator("body[data-ready]").wait_for(timeout=timeout)


def becomes_true(page: Page, script: str, argument: object) -> None:
    """`wait_for_function` takes a promise for a yes."""
    until = time.monotonic() + PATIENCE_SECONDS
    while not page.evaluate(script, argument):
        assert time.monotonic() < until, script
        page.wait_for_timeout(100)
