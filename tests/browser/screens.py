"""The screens every page is looked at on, and how a page goes from one to another."""

from weakref import WeakKeyDictionary

from playwright.sync_api import CDPSession, Page, ViewportSize, expect

WIDE, PHONE = 1440, 390
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


def assert_turned_in(page: Page, *, timeout: float) -> None:
    """A student's page was fetched anew after the press, and says that the school has everything."""
    said = page.locator("[data-just-in]")
    expect(said).to_have_text("Turned in. Your school has every take.", timeout=timeout)
    expect(said).to_be_visible(timeout=timeout)
    page.locator("body[data-ready]").wait_for(timeout=timeout)
