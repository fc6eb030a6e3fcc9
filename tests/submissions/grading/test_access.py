"""Who may open the desk: the band's adults; everybody else finds nothing."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from bandroom.people.models import Membership, User
from submissions.models import Mark, TurnIn
from tests import factories
from tests.submissions.grading.conftest import sheet

pytestmark = pytest.mark.django_db
READ = ("desk", "desk-seat", "desk-line")
PRESSED = (
    "desk-mark",
    "desk-note",
    "desk-ear",
    "desk-return",
    "desk-excuse",
    "desk-unexcuse",
    "desk-live",
    "desk-unlive",
    "desk-reopen",
    "desk-lateness",
)


def address(name: str, waiting: TurnIn) -> str:
    args: list[object] = [waiting.assignment_id]
    if name != "desk":
        args.append(waiting.seat_id)
    if name == "desk-line":
        args.append("A")
    return reverse(f"submissions:{name}", args=args)


def asked(client: Client, name: str, waiting: TurnIn) -> int:
    """The status; a page of the desk is read, everything else pressed with a whole sheet."""
    if name in READ:
        return client.get(address(name, waiting)).status_code
    return client.post(address(name, waiting), sheet(waiting)).status_code


@pytest.fixture
def strangers(waiting: TurnIn, director: Membership) -> dict[str, User]:
    elsewhere = factories.make_band(name="Elsewhere")
    return {
        "the student": waiting.seat.student,
        "a classmate": factories.make_seat(section=waiting.seat.section).student,
        "another band's director": factories.make_staff(band=elsewhere).user,
        "nobody's member": factories.make_user(),
    }


@pytest.mark.parametrize("name", READ + PRESSED)
def test_strangers_find_nothing_and_change_nothing(
    name: str, waiting: TurnIn, strangers: dict[str, User], sign_in: Callable[[User], Client]
):
    found = {who: asked(sign_in(user), name, waiting) for who, user in strangers.items()}
    assert found == dict.fromkeys(strangers, 404)
    waiting.refresh_from_db()
    assert (waiting.state, Mark.objects.count()) == (TurnIn.State.WAITING, 0)


@pytest.mark.parametrize("name", READ)
def test_a_visitor_is_sent_to_sign_in_and_back(name: str, waiting: TurnIn):
    response = Client().get(address(name, waiting))
    assert response.status_code == 302
    assert address(name, waiting) in response["Location"]


@pytest.mark.parametrize("name", PRESSED)
def test_a_visitors_press_is_told_to_sign_in(name: str, waiting: TurnIn):
    assert asked(Client(), name, waiting) == 401


def test_a_substitute_may_see_mark_and_return(
    waiting: TurnIn, substitute: Membership, sign_in: Callable[[User], Client]
):
    client = sign_in(substitute.user)
    assert [asked(client, name, waiting) for name in READ] == [200, 200, 200]
    assert asked(client, "desk-return", waiting) == 302
    waiting.refresh_from_db()
    assert (waiting.state, waiting.state_changed_by) == (TurnIn.State.RETURNED, substitute.user)


def test_a_substitute_is_not_offered_what_is_not_theirs(
    waiting: TurnIn, substitute: Membership, sign_in: Callable[[User], Client]
):
    page = sign_in(substitute.user).get(address("desk-seat", waiting)).content
    assert reverse("submissions:phrases").encode() not in page
