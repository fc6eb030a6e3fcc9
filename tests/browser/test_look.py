"""The shared components and modules in a real browser. Accessibility rules: axe-core, WCAG 2.2 A and AA."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.accessibility import GOOD_PRACTICE, assert_accessible, findings
from tests.browser.conftest import PageAt, Watch
from tests.browser.screens import PHONE, WIDE, resize

pytestmark = [pytest.mark.browser, pytest.mark.urls("tests.browser.gallery.urls")]


@pytest.fixture
def page(page_at: PageAt) -> Page:
    return page_at(WIDE)


# What is too small, too wide or squeezed in a page, each as a list of what it is.
SQUEEZED = """() => [...document.querySelectorAll("main :is(p, b, span, h1, h2, button)")]
    .filter((e) => e.checkVisibility() && !e.closest(".vh, .picks, .scale, svg"))
    .filter((e) => e.textContent.trim().length > 12 && e.getBoundingClientRect().width < 90)
    .map((e) => e.textContent.trim().slice(0, 60))
    .filter((words) => words.length > 12)"""
UNDER_A_THUMB = """() => [...document.querySelectorAll("button, .btn, .check, .picks label, select, summary")]
    .filter((e) => e.checkVisibility() && e.getBoundingClientRect().height < 43.5)
    .map((e) => e.outerHTML.slice(0, 80))"""
TOO_WIDE = "document.documentElement.scrollWidth > innerWidth"


@pytest.mark.parametrize("name", ["desk", "parts?said=1", "forms", "student", "door", "desk?band=big"])
def test_components_have_no_axe_findings_and_fit_every_width(page: Page, name: str) -> None:
    page.goto(f"/gallery/{name}")
    assert_accessible(page, GOOD_PRACTICE)
    for width in (320, 390, 900, 901, 1440, 1920):
        resize(page, width)
        assert not page.evaluate(TOO_WIDE), f"{name} scrolls sideways at {width} px"


@pytest.mark.parametrize("name", ["desk", "parts", "forms", "student"])
def test_a_page_bears_a_thumb_and_text_at_twice_its_size(page_at: PageAt, name: str) -> None:
    page = page_at(PHONE)
    page.goto(f"/gallery/{name}")
    if name != "desk":  # made for a mouse and keys
        assert page.evaluate(UNDER_A_THUMB) == []
    page.evaluate("document.documentElement.style.setProperty('font-size', '200%')")
    if name != "forms":
        assert page.evaluate(SQUEEZED) == []
    for width in (PHONE, 1280):
        resize(page, width)
        assert not page.evaluate(TOO_WIDE), f"{name} scrolls sideways at {width} px"


def test_what_breaks_a_rule_is_found_also_in_a_page_that_takes_the_place_of_another(page: Page) -> None:
    spoil = "document.querySelector('main').append(new Image(9, 9))"  # without an alternative text
    leave = "setTimeout(() => { location.href = '/gallery/door'; }, 0)"
    page.goto("/gallery/parts")
    page.evaluate(spoil)
    with pytest.raises(AssertionError, match="image-alt"):
        assert_accessible(page)
    page.evaluate(leave)
    assert_accessible(page)
    expect(page).to_have_url(re.compile("/gallery/door"))


def test_the_band_has_one_tab_stop_and_arrows_between_chairs(page: Page) -> None:
    page.goto("/gallery/desk")
    stops = page.locator(".band :is(a)[tabindex='0']")
    expect(stops).to_have_count(1)
    expect(stops).to_have_attribute("aria-current", "true")
    stops.focus()
    focused = "document.activeElement.getBoundingClientRect()"
    x = page.evaluate(f"{focused}.x")
    page.keyboard.press("ArrowRight")
    page.wait_for_function(f"(x) => 0 < {focused}.x - x && {focused}.x - x < 150", arg=x)
    page.keyboard.press("ArrowLeft")
    expect(page.locator(".band a:focus")).to_have_attribute("aria-current", "true")
    y = page.evaluate(f"{focused}.y")
    page.keyboard.press("ArrowUp")
    page.wait_for_function(f"(y) => {focused}.y < y", arg=y)
    page.keyboard.press("End")
    page.keyboard.press("ArrowRight")
    expect(stops).to_have_count(1)
    page.keyboard.press("Tab")
    expect(page.locator(".band :focus")).to_have_count(0)


def test_arrow_keys_reach_every_chair(page: Page) -> None:
    page.goto("/gallery/desk")
    unreached = page.evaluate(
        """() => {
          const links = [...document.querySelectorAll(".band a")];
          const seen = new Set([links[0]]);
          for (const link of seen) {
            for (const key of ["ArrowLeft", "ArrowRight", "ArrowUp", "ArrowDown"]) {
              link.focus();
              link.dispatchEvent(new KeyboardEvent("keydown", { key, bubbles: true, cancelable: true }));
              seen.add(document.activeElement);
            }
          }
          return links.filter((link) => !seen.has(link)).map((link) => link.getAttribute("aria-label"));
        }"""
    )
    assert unreached == []


def test_the_list_moves_in_order(page: Page) -> None:
    page.goto("/gallery/desk")
    first, second = (page.locator(".class-list a").nth(n) for n in (0, 1))
    first.focus()
    page.keyboard.press("ArrowDown")
    expect(second).to_be_focused()
    page.keyboard.press("Home")
    expect(first).to_be_focused()
    page.keyboard.press("ArrowUp")
    expect(first).to_be_focused()


def pressed(page: Page) -> None:
    page.evaluate(
        """() => {
          window.pressed = [];
          document.addEventListener("click", (event) => {
            const key = event.target.closest("[data-key]")?.dataset.key;
            if (key) window.pressed.push(key);
          });
        }"""
    )


def were(page: Page, what: str, keys: list[str]) -> None:
    """All that was pressed or given, in this order."""
    page.wait_for_function(
        "([what, keys]) => JSON.stringify(window[what]) === JSON.stringify(keys)", arg=[what, keys]
    )


def test_a_single_key_presses_what_carries_it(page: Page) -> None:
    page.goto("/gallery/desk")
    pressed(page)
    for key in ["r", "R", "Enter", "Space", "Control+r", "Alt+r", "x"]:
        if key != "Control+r":  # the browser's own reload
            page.keyboard.press(key)
    were(page, "pressed", ["R", "R", "Enter", "Space"])
    expect(page.locator('[data-key="R"]')).to_have_attribute("aria-keyshortcuts", "R")
    # They rest while someone types.
    pressed(page)
    page.evaluate("document.querySelector('#marks').append(document.createElement('textarea'))")
    page.locator("textarea").press_sequentially("r?")
    assert page.evaluate("window.pressed") == []
    expect(page.locator("textarea")).to_have_value("r?")
    expect(page.locator("dialog")).to_have_count(0)


def test_keys_leave_radios_to_the_keyboard(page: Page) -> None:
    page.goto("/gallery/desk")
    pressed(page)
    tone = page.locator('input[name="t"]')
    tone.first.focus()
    page.keyboard.press("Space")
    expect(tone.first).to_be_checked()
    assert page.evaluate("window.pressed") == []
    page.keyboard.press("Space")  # nothing left for the browser to do: now it plays
    page.keyboard.press("ArrowRight")
    expect(tone.nth(1)).to_be_checked()
    were(page, "pressed", ["Space"])


def test_question_mark_lists_the_keys_of_the_page(page: Page) -> None:
    page.goto("/gallery/desk")
    page.keyboard.press("?")
    dialog = page.get_by_role("dialog", name="Keys on this page")
    expect(dialog.locator("dt")).to_have_text(["L", "Space", "Enter", "R", "?"])
    expect(dialog.locator("dd").nth(2)).to_have_text("Return and open next")
    assert findings(page, GOOD_PRACTICE) == []
    page.keyboard.press("Escape")
    expect(dialog).to_have_count(0)


def test_single_keys_can_be_turned_off_and_on_again(page: Page) -> None:
    page.goto("/gallery/desk")
    page.get_by_role("button", name="Keys").click()
    page.get_by_label("Use single keys").uncheck()
    page.get_by_role("button", name="Close").click()
    page.reload()
    pressed(page)
    page.keyboard.press("r")
    page.keyboard.press("?")
    assert page.evaluate("window.pressed") == []
    expect(page.locator("dialog")).to_have_count(0)
    page.get_by_role("button", name="Keys").click()
    page.get_by_label("Use single keys").check()
    page.get_by_role("button", name="Close").click()
    page.keyboard.press("r")
    were(page, "pressed", ["R"])


def test_keys_bound_by_a_page_come_first_and_can_let_go(page: Page) -> None:
    page.goto("/gallery/desk")
    pressed(page)
    page.evaluate(
        """async () => {
          const { bindKey } = await import("/static/bandroom/js/keys.js");
          window.given = [];
          const run = (key) => { window.given.push(key); };
          window.free = bindKey({ keys: ["1", "2"], says: "Give the level", shown: "1–2", run });
          bindKey({ keys: ["R"], run: () => false });
        }"""
    )
    page.keyboard.press("1")
    page.keyboard.press("2")
    page.keyboard.press("r")
    page.evaluate("window.free()")
    page.keyboard.press("1")
    were(page, "given", ["1", "2"])
    were(page, "pressed", ["R"])


def test_a_page_without_keys_offers_no_list_of_them(page: Page) -> None:
    page.goto("/gallery/student")
    expect(page.get_by_role("button", name="Keys")).to_be_hidden()


def test_a_form_that_asks_is_sent_after_yes_and_not_after_no(page: Page) -> None:
    page.goto("/gallery/parts")
    page.evaluate(
        """() => {
          const token = document.createElement("input");
          Object.assign(token, { type: "hidden", name: "csrfmiddlewaretoken" });
          token.value = document.querySelector("meta[name=csrf-token]").content;
          document.querySelector("form[data-confirm]").append(token);
        }"""
    )
    page.get_by_role("button", name="Withdraw").click()
    dialog = page.get_by_role("dialog", name="Withdraw this assignment?")
    dialog.get_by_role("button", name="Go back").click()
    expect(dialog).to_have_count(0)
    expect(page.get_by_role("heading", name="This week in band")).to_be_visible()
    page.get_by_role("button", name="Withdraw").click()
    dialog.get_by_role("button", name="Withdraw").click()
    expect(page.locator("body")).to_contain_text("POST sure=yes")


@pytest.mark.parametrize(
    ("address", "kind"),
    [("/gallery/away", "signed-out"), ("/gallery/refused", "refused"), ("http://localhost:9/", "offline")],
)
def test_send_says_what_kind_of_failure_it_was(page: Page, watch: Watch, address: str, kind: str) -> None:
    page.goto("/gallery/parts")
    failure = page.evaluate(
        """async (address) => {
          const { send } = await import("/static/bandroom/js/csrf.js");
          try {
            await send(address, { body: { mark: 3 } });
          } catch (error) {
            return [error.name, error.kind, error.message.length > 20];
          }
          return null;
        }""",
        address,
    )
    assert failure == ["SendError", kind, True]
    watch.strays.clear()  # the dead address was asked for on purpose
    watch.violations.clear()  # and the policy keeps a page from any other host


def test_send_carries_the_token_and_a_body_of_plain_data(page: Page) -> None:
    page.goto("/gallery/parts")
    answer = page.evaluate(
        """async () => {
          const { send } = await import("/static/bandroom/js/csrf.js");
          return (await send("/gallery/sent", { body: { mark: 3 } })).text();
        }"""
    )
    assert answer == 'POST {"mark":3}'


def test_send_gives_up_after_its_time_and_when_told_to(page: Page) -> None:
    page.goto("/gallery/parts")
    page.route("**/gallery/slow", lambda route: None)  # never answered
    kinds = page.evaluate(
        """async () => {
          const { send } = await import("/static/bandroom/js/csrf.js");
          const kind = (options) =>
            send("/gallery/slow", options).then(() => "answered", (error) => error.kind);
          const stop = new AbortController();
          setTimeout(() => stop.abort(), 50);
          return [await kind({ timeout: 80 }), await kind({ signal: stop.signal })];
        }"""
    )
    assert kinds == ["timeout", "stopped"]


def test_the_error_summary_takes_the_focus_and_leads_to_the_field(page: Page) -> None:
    page.goto("/gallery/forms")
    expect(page.locator(".wrong")).to_be_focused()
    page.get_by_role("link", name="Minutes: This field is required.").click()
    expect(page.locator("#id_bad-minutes")).to_be_focused()


def test_copying_says_so(page_at: PageAt) -> None:
    page = page_at(WIDE, permissions=["clipboard-read", "clipboard-write"])
    page.goto("/gallery/parts")
    page.get_by_role("button", name="Copy the address").click()
    expect(page.get_by_role("button", name="Copied")).to_be_visible()
    assert page.evaluate("navigator.clipboard.readText()") == "https://band.example/feed/abc"


def test_the_skip_link_is_the_first_stop_and_goes_to_the_page(page: Page) -> None:
    page.goto("/gallery/parts")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the page")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_be_focused()


def test_print_leaves_the_strip_and_the_dock_out(page: Page) -> None:
    page.goto("/gallery/student")
    page.emulate_media(media="print")
    expect(page.locator(".strip")).to_be_hidden()
    expect(page.locator(".dock")).to_be_hidden()


def test_forced_colours_keep_the_chosen_step_apart(page: Page) -> None:
    page.emulate_media(forced_colors="active")
    page.goto("/gallery/desk")
    chosen, other = page.evaluate(
        """() => [":has(:checked)", ":not(:has(:checked))"].map(
          (kind) => getComputedStyle(document.querySelector(`.scale label${kind}`)).backgroundColor)"""
    )
    assert chosen != other
