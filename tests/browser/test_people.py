"""The pages of people in a real browser, on a phone and on a wide screen: usable, accessible, quiet."""

import re
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pypdf
import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Membership, Seat, Section, User
from bandroom.people.services.students import create_student
from tests import factories
from tests.people.issuing import issue_cards

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
AT = datetime(2026, 10, 6, 20, 0, tzinfo=UTC)
HEAD = "First name\tLast name\tSection\tPeriod\tInstrument\n"
LIST = HEAD + "Ada\tMarsh\tFlute\t2\tFlute\nBo\tLind\tSax\t2\tsaxofone\n"


@pytest.fixture
def amaru(band: Band, section: Section) -> User:
    member = create_student(
        band=band,
        first_name="Amaru",
        last_name="Vee",
        section=section,
        instrument=Instrument.FLUTE,
        name_id="amaru-41",
        at=AT,
    )
    issue_cards(band=band, memberships=[member.pk], passphrases={member.pk: "copper lantern river"}, at=AT)
    return member.user


def test_a_child_types_the_card_and_is_in(
    page_at: Callable[..., Page], assert_accessible: Callable[[Page], None], amaru: User
) -> None:
    """The words are typed as they come, with spaces; each goes into its own box. No mouse is used."""
    page = page_at(390)
    page.goto(reverse("people:sign-in"))
    assert_accessible(page)
    page.get_by_label("Name-id").focus()
    page.keyboard.type("Amaru 41")
    page.keyboard.press("Tab")
    page.keyboard.type("Copper lantern rivver")
    expect(page.get_by_label("Third word")).to_have_value("rivver")
    page.keyboard.press("Enter")
    expect(page.locator(".wrong", has_text="do not fit together")).to_be_focused()
    page.wait_for_load_state()
    assert_accessible(page)
    page.get_by_label("Third word").fill("river")
    page.get_by_role("button", name="Go in").click()
    page.wait_for_url("**/work/")


def test_a_pasted_passphrase_spreads_over_the_boxes(page_at: Callable[..., Page], amaru: User) -> None:
    page = page_at(390)
    page.goto(reverse("people:sign-in"))
    page.get_by_label("First word").fill("copper-lantern-river")
    for label, word in (("First word", "copper"), ("Second word", "lantern"), ("Third word", "river")):
        expect(page.get_by_label(label)).to_have_value(word)


def test_pages_of_the_band_are_accessible(
    page_at: Callable[..., Page],
    assert_accessible: Callable[[Page], None],
    director: Membership,
    substitute: Membership,
    seat: Seat,
    amaru: User,
) -> None:
    factories.make_staff(band=factories.make_band(name="Jazz Band"), user=director.user)
    student = seat.student.memberships.get()
    page = page_at(1440, director.user)
    addresses = [
        *(
            reverse(f"people:{name}")
            for name in ("band", "settings", "section-new", "student-new", "permissions")
        ),
        *(reverse(f"people:{name}") for name in ("staff", "cards", "import", "password", "choose-band")),
        *(reverse(f"people:{name}", args=[student.pk]) for name in ("student", "student-erase")),
        reverse("people:section", args=[seat.section_id]),
    ]
    for address in addresses:
        page.goto(address)
        assert_accessible(page)
    page.goto(reverse("people:staff"))
    page.get_by_role("button", name="Link for a password").click()
    expect(page.get_by_label("Link", exact=True)).to_have_value(re.compile("/welcome/"))
    link = page.get_by_label("Link", exact=True).input_value()
    assert_accessible(page)
    stranger = page_at(1440)
    stranger.goto(link)
    assert_accessible(stranger)
    stranger.goto(reverse("people:sign-in-staff"))
    assert_accessible(stranger)


def test_a_list_is_pasted_looked_at_and_brought_in(
    page_at: Callable[..., Page], assert_accessible: Callable[[Page], None], director: Membership
) -> None:
    page = page_at(1440, director.user)
    page.goto(reverse("people:import"))
    page.get_by_label("Or paste the rows").fill(LIST)
    page.get_by_role("button", name="Read the list").click()
    expect(page.get_by_role("heading", name="Is each column what it should be?")).to_be_visible()
    assert_accessible(page)
    page.get_by_role("button", name="Show what will happen").click()
    expect(page.get_by_text("did you mean Alto sax?")).to_be_visible()
    assert_accessible(page)
    page.get_by_role("button", name="Look again").click()
    page.get_by_role("button", name="Bring in 2 students").click()
    expect(page.get_by_text("Imported: 2 new, 0 changed.")).to_be_visible()
    assert Seat.objects.count() == 2


def test_a_section_is_ticked_at_once_and_its_cards_are_saved(
    page_at: Callable[..., Page], director: Membership, section: Section, amaru: User, tmp_path: Path
) -> None:
    for _ in range(2):
        factories.make_seat(section=section)
    page = page_at(1440, director.user)
    page.goto(reverse("people:cards"))
    expect(page.get_by_text("2 ticked, at most 160 at once")).to_be_visible()
    page.get_by_role("button", name="All 3").click()
    expect(page.get_by_text("3 ticked, at most 160 at once")).to_be_visible()
    with page.expect_download() as saved:
        page.get_by_role("button", name="Print the ticked cards").click()
    path = tmp_path / "cards.pdf"
    saved.value.save_as(path)
    assert "amaru-41" in pypdf.PdfReader(path).pages[0].extract_text()
    assert not User.objects.get(pk=amaru.pk).check_password("copper-lantern-river")
