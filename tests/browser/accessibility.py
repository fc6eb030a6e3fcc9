"""What axe-core finds in a page at both widths, whichever page stands there in the end.

A click that posts a form is over before the next page has come, so axe may be at work on a document that is
replaced beneath it. Then, and only then, it looks once more.
"""

from collections.abc import Sequence
from typing import Any

from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Error, Page, TimeoutError

from tests.browser.screens import PHONE, WIDE, resize

WCAG = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa")
# Beyond levels A and AA, which every page is held to: what axe calls good practice.
GOOD_PRACTICE = (*WCAG, "best-practice")
# A document that broke off axe's work gives way to the next one soon, or it was not that.
GIVES_WAY_WITHIN = 5_000

LOOK = """
async (tags) => {
  const { violations } = await axe.run({
    runOnly: { type: "tag", values: tags },
    resultTypes: ["violations"],
  });
  const page = document.documentElement;
  return {
    born: performance.timeOrigin,
    findings: violations.map(({ id, nodes }) => `${id}: ${nodes.slice(0, 3).map((node) => node.html)}`),
    too_wide: page.scrollWidth - page.clientWidth,
  };
}
"""


def findings(page: Page, tags: Sequence[str] = WCAG) -> list[str]:
    """Each rule of axe that the page breaks as it stands, with its first places."""
    return _seen(page, tags)["findings"]


def assert_accessible(page: Page, tags: Sequence[str] = WCAG) -> None:
    """On a wide screen and on a phone: no finding by axe, no sideways scrolling. The page stays as it was."""
    own = page.viewport_size
    for width in (WIDE, PHONE):
        resize(page, width)
        seen = _seen(page, tags)
        assert seen["findings"] == [], f"{page.url} at {width} px: {seen['findings']}"
        assert seen["too_wide"] <= 0, f"{page.url} scrolls sideways by {seen['too_wide']} px at {width} px"
    resize(page, own["width"])


def _seen(page: Page, tags: Sequence[str]) -> dict[str, Any]:
    before = _born(page)
    try:
        seen = _look(page, tags)
    except Error:
        if not _gave_way(page, before):
            raise
    else:
        if seen["born"] == before == _born(page):
            return seen
    _born(page)
    return _look(page, tags)


def _look(page: Page, tags: Sequence[str]) -> dict[str, Any]:
    if not page.evaluate("'axe' in globalThis"):
        page.evaluate(AXE_SCRIPT)
    seen: dict[str, Any] = page.evaluate(LOOK, list(tags))
    return seen


def _born(page: Page) -> float:
    """When the loaded document in view began; another one began at another moment."""
    page.wait_for_load_state()
    try:
        born: float = page.evaluate("performance.timeOrigin")
    except Error:  # nothing in so short a question fails but a document that goes
        page.wait_for_load_state()
        born = page.evaluate("performance.timeOrigin")
    return born


def _gave_way(page: Page, before: float) -> bool:
    try:
        page.wait_for_function(
            "(before) => performance.timeOrigin !== before", arg=before, timeout=GIVES_WAY_WITHIN
        )
    except TimeoutError:
        return False
    return True
