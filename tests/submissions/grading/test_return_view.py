"""Return and open next: by the page's script, and as a plain form."""

from datetime import datetime

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now
from lxml import html

from bandroom.people.models import Membership, Section, User
from submissions.grading.services import marks
from submissions.models import Mark, Posting, Return, TurnIn
from tests import factories
from tests.submissions.grading.conftest import make_take, sheet, steps, turn_in_both

pytestmark = pytest.mark.django_db
PAGE = {"X-Requested-With": "bandroom"}


def address(turn_in: TurnIn, query: str = "") -> str:
    return reverse("submissions:desk-return", args=[turn_in.assignment_id, turn_in.seat_id]) + query


def seat_address(turn_in: TurnIn, query: str = "") -> str:
    return reverse("submissions:desk-seat", args=[turn_in.assignment_id, turn_in.seat_id]) + query


def desk_address(turn_in: TurnIn) -> str:
    return reverse("submissions:desk", args=[turn_in.assignment_id])


@pytest.fixture
def second(section: Section, posting: Posting, in_time: datetime, waiting: TurnIn) -> TurnIn:
    """Another student who waits, with a later name."""
    student = factories.make_user(first_name="Zoe", last_name="Zz")
    return turn_in_both(
        seat=factories.make_seat(section=section, student=student), posting=posting, at=in_time
    )


def test_a_plain_form_returns_everything_and_opens_the_next(
    desk: Client, waiting: TurnIn, second: TurnIn, director: Membership
):
    posted = sheet(waiting, worked="Steady.", next_step="Slower.", look_at="A2")
    response = desk.post(address(waiting, "?section=" + str(waiting.seat.section_id)), posted)
    assert response.status_code == 302
    assert response["Location"] == seat_address(second, f"?section={waiting.seat.section_id}")
    waiting.refresh_from_db()
    assert waiting.state == TurnIn.State.RETURNED
    assert sorted(waiting.marks.values_list("line", "level__value")) == [
        ("A", 4),
        ("A", 4),
        ("B", 4),
        ("B", 4),
    ]
    returned = Return.objects.get()
    assert (returned.worked, returned.next_step, returned.look_at) == ("Steady.", "Slower.", "A2")
    assert (
        f"Returned to {waiting.seat.student.first_name}." in desk.get(seat_address(second)).content.decode()
    )


def test_the_pages_script_gets_the_next_address(desk: Client, waiting: TurnIn, second: TurnIn):
    response = desk.post(address(waiting), sheet(waiting), headers=PAGE)
    assert response.json() == {"next": seat_address(second)}


def test_after_the_last_one_the_roster_comes(desk: Client, waiting: TurnIn):
    assert desk.post(address(waiting), sheet(waiting), headers=PAGE).json() == {"next": desk_address(waiting)}


def test_the_next_is_sought_within_the_choice(desk: Client, waiting: TurnIn, second: TurnIn):
    response = desk.post(address(waiting, "?instrument=tuba"), sheet(waiting), headers=PAGE)
    assert response.json() == {"next": desk_address(waiting) + "?instrument=tuba"}


def test_unmarked_criteria_are_asked_about_once_and_what_was_given_is_kept(desk: Client, waiting: TurnIn):
    posted = sheet(waiting, worked="Steady.")
    first = next(name for name in posted if name.startswith("mark-B-"))
    posted[first] = ""
    response = desk.post(address(waiting), posted)
    assert response.status_code == 409
    page = html.fromstring(response.content.decode())
    assert "Right notes in line B has no mark yet" in page.cssselect('[role="alert"]')[0].text_content()
    [again] = page.cssselect('button[form="sheet"]')
    assert again.get("value") == "return-unmarked"
    assert (Mark.objects.count(), Return.objects.get().worked) == (3, "Steady.")
    response = desk.post(address(waiting), posted | {"do": "return-unmarked"})
    assert response.status_code == 302
    waiting.refresh_from_db()
    assert waiting.state == TurnIn.State.RETURNED


def test_the_script_is_told_what_is_missing(desk: Client, waiting: TurnIn):
    response = desk.post(address(waiting), {"attempt": "1", "do": "return"}, headers=PAGE)
    assert (response.status_code, response.json()["kind"]) == (409, "incomplete")


def test_asking_again_needs_no_marks(desk: Client, waiting: TurnIn, second: TurnIn):
    response = desk.post(
        address(waiting), {"attempt": "1", "do": "again", "next_step": "Play it slower."}, headers=PAGE
    )
    assert response.json() == {"next": seat_address(second)}
    waiting.refresh_from_db()
    assert (waiting.state, waiting.returns.get().next_step) == (TurnIn.State.REDO, "Play it slower.")


def test_keeping_stays_with_the_student(desk: Client, waiting: TurnIn):
    response = desk.post(address(waiting), sheet(waiting, do="keep"))
    assert response["Location"] == seat_address(waiting)
    waiting.refresh_from_db()
    assert (waiting.state, Mark.objects.count()) == (TurnIn.State.WAITING, 4)


def test_choosing_a_take_to_hear_keeps_the_marks(desk: Client, waiting: TurnIn, in_time: datetime):
    old = make_take(seat=waiting.seat, assignment=waiting.assignment, at=in_time)
    response = desk.post(address(waiting, "?state=waiting"), sheet(waiting, do=f"take:A:{old.pk}"))
    assert response["Location"] == seat_address(waiting, f"?state=waiting&take-A={old.pk}")
    assert Mark.objects.count() == 4


def test_a_conflict_shows_the_form_again_with_all_that_was_posted(
    desk: Client, waiting: TurnIn, other_adult: User
):
    criterion, levels = next(iter(steps(waiting.assignment).items()))
    marks.give_mark(
        turn_in=waiting, attempt=1, line="A", criterion=criterion, level=levels[0], by=other_adult, at=now()
    )
    response = desk.post(address(waiting), sheet(waiting, worked="My own words."))
    assert response.status_code == 409
    page = html.fromstring(response.content.decode())
    assert "marked this meanwhile" in page.cssselect('[role="alert"]')[0].text_content()
    assert page.cssselect("#worked")[0].text == "My own words."
    checked = {radio.get("name"): radio.get("value") for radio in page.cssselect("input[checked]")}
    assert checked == {name: value for name, value in sheet(waiting).items() if name.startswith("mark-")}
    waiting.refresh_from_db()
    assert (waiting.state, Mark.objects.count()) == (TurnIn.State.WAITING, 1)


@pytest.mark.parametrize(
    "wrong", [{"worked": "x" * 1001}, {"look_at": "Z1"}, {"attempt": "one"}], ids=["long", "bar", "attempt"]
)
def test_a_form_that_cannot_be_kept_loses_nothing(desk: Client, waiting: TurnIn, wrong: dict[str, str]):
    posted = sheet(waiting, next_step="Slower.") | wrong
    response = desk.post(address(waiting), posted)
    assert response.status_code == 422
    page = html.fromstring(response.content.decode())
    assert page.cssselect("#next-step")[0].text == "Slower."
    assert len(page.cssselect("input[checked]")) == 4
    assert Mark.objects.count() == 0
    assert desk.post(address(waiting), posted, headers=PAGE).status_code == 422


def test_a_newer_take_refuses_an_older_page(desk: Client, waiting: TurnIn):
    response = desk.post(address(waiting), sheet(waiting, attempt="2"), headers=PAGE)
    assert (response.status_code, response.json()["sentence"]) == (
        409,
        "A newer take came in meanwhile; open the page again to hear it.",
    )


def test_only_posting_is_allowed(desk: Client, waiting: TurnIn):
    assert desk.get(address(waiting)).status_code == 405
