"""What the director's ear says, kept beside the evidence; and the line drawn anew for an open page."""

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now
from lxml import html

from submissions.models import Hearing, Mark, TurnIn
from tests.submissions.grading.conftest import make_take, sheet
from tests.submissions.grading.evidence import evidence, make_hearing, other

pytestmark = pytest.mark.django_db
PAGE = {"X-Requested-With": "bandroom"}


@pytest.fixture
def hearing(waiting: TurnIn) -> Hearing:
    heard = evidence(sounding=[58, 60, 62, 58], starts=[0, 2, 4, 6], slips={1: other(1, "D#4")})
    return make_hearing(take=waiting.counting.get(line="A").take, line="A", evidence=heard)


def ear(waiting: TurnIn, query: str = "") -> str:
    return reverse("submissions:desk-ear", args=[waiting.assignment_id, waiting.seat_id]) + query


def line(waiting: TurnIn, label: str = "A", **query: str) -> str:
    return reverse("submissions:desk-line", args=[waiting.assignment_id, waiting.seat_id, label], query=query)


def test_the_ears_word_is_kept_and_can_be_taken_back(desk: Client, waiting: TurnIn, hearing: Hearing):
    assert desk.post(ear(waiting), {"ear": "A:1:as_written"}, headers=PAGE).json() == {"saved": "as_written"}
    hearing.refresh_from_db()
    assert hearing.overruled == {"A": {"1": "as_written"}}
    desk.post(ear(waiting), {"ear": "A:1:"}, headers=PAGE)
    hearing.refresh_from_db()
    assert hearing.overruled == {}


def test_without_script_the_marks_on_the_page_are_kept_as_well(
    desk: Client, waiting: TurnIn, hearing: Hearing
):
    response = desk.post(ear(waiting, "?state=waiting"), sheet(waiting) | {"ear": "A:1:not_heard"})
    assert response.status_code == 302
    assert response["Location"].endswith("?state=waiting")
    hearing.refresh_from_db()
    assert hearing.overruled == {"A": {"1": "not_heard"}}
    assert Mark.objects.count() == 4


@pytest.mark.parametrize(
    ("said", "status"),
    [
        ("A:9:as_written", 409),
        ("A:1:unsure", 409),
        ("B:1:as_written", 422),
        ("A:x:as_written", 422),
        ("", 422),
        ("::::", 422),
    ],
)
@pytest.mark.usefixtures("hearing")
def test_what_makes_no_sense_changes_nothing(desk: Client, waiting: TurnIn, said: str, status: int):
    response = desk.post(ear(waiting), {"ear": said}, headers=PAGE)
    assert response.status_code == status
    assert response.json()["sentence"].endswith(".")
    assert Hearing.objects.get().overruled == {}


def test_an_earlier_take_keeps_its_own_ear(desk: Client, waiting: TurnIn, hearing: Hearing):
    take = make_take(seat=waiting.seat, assignment=waiting.assignment, at=now())
    assert hearing.evidence is not None
    old = make_hearing(take=take, line="A", evidence=hearing.evidence["A"])
    desk.post(ear(waiting), {"ear": "A:1:not_heard", "take-A": str(old.take_id)}, headers=PAGE)
    old.refresh_from_db()
    hearing.refresh_from_db()
    assert (old.overruled, hearing.overruled) == ({"A": {"1": "not_heard"}}, {})


def test_the_line_comes_alone_for_a_page_that_is_open(desk: Client, waiting: TurnIn, hearing: Hearing):
    Hearing.objects.update(overruled={"A": {"1": "as_written"}})
    response = desk.get(line(waiting, note="1"))
    part = html.fromstring(f"<div>{response.content.decode()}</div>")
    assert part.cssselect("html, article") == []
    assert part.cssselect("[data-now]")[0].text_content().endswith("Your ear: as written.")
    pressed = part.cssselect('[data-ear-now] [aria-pressed="true"]')
    assert [button.get("value") for button in pressed] == ["A:1:"]


def test_a_line_still_listened_to_says_so(desk: Client, waiting: TurnIn, hearing: Hearing):
    Hearing.objects.update(state=Hearing.State.RUNNING, evidence=None)
    assert b"data-coming" in desk.get(line(waiting)).content
    assert b"data-coming" not in desk.get(line(waiting, "B")).content


@pytest.mark.parametrize("label", ["C", "AA"])
def test_a_line_that_was_not_asked_for_is_not_found(desk: Client, waiting: TurnIn, label: str):
    assert desk.get(line(waiting, label)).status_code == 404


def test_methods(desk: Client, waiting: TurnIn):
    assert desk.get(ear(waiting)).status_code == 405
    assert desk.post(line(waiting)).status_code == 405
