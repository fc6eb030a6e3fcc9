"""Marks saved one by one: each answer is a receipt the page can keep to."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now

from bandroom.people.models import Membership, User
from submissions.grading.services import marks
from submissions.models import Mark, TurnIn
from submissions.turn_ins import services as turn_ins
from tests.submissions.grading.conftest import steps

pytestmark = pytest.mark.django_db


@pytest.fixture
def address(waiting: TurnIn) -> str:
    return reverse("submissions:desk-mark", args=[waiting.assignment_id, waiting.seat_id])


@pytest.fixture
def fields(waiting: TurnIn) -> dict[str, str]:
    """Level 3 of the first criterion in line A."""
    criterion, levels = next(iter(steps(waiting.assignment).items()))
    return {
        "attempt": "1",
        "line": "A",
        "criterion": str(criterion.pk),
        "level": str(levels[2].pk),
        "seen": "",
    }


def test_a_mark_is_saved_and_the_receipt_says_what_stands_there(
    desk: Client, address: str, fields: dict[str, str], director: Membership
):
    response = desk.post(address, fields)
    assert (response.status_code, response.json()) == (200, {"saved": fields["level"]})
    mark = Mark.objects.get()
    assert (str(mark.level_id), mark.given_by) == (fields["level"], director.user)


def test_not_yet_has_a_receipt_of_its_own(desk: Client, address: str, fields: dict[str, str]):
    assert desk.post(address, fields | {"level": "not_yet"}).json() == {"saved": "not_yet"}
    assert Mark.objects.get().level is None


def test_another_adults_change_comes_back_with_what_stands_there(
    desk: Client, address: str, fields: dict[str, str], waiting: TurnIn, other_adult: User
):
    criterion, levels = next(iter(steps(waiting.assignment).items()))
    marks.give_mark(
        turn_in=waiting, attempt=1, line="A", criterion=criterion, level=levels[0], by=other_adult, at=now()
    )
    response = desk.post(address, fields)
    assert response.status_code == 409
    answer = response.json()
    assert (answer["kind"], answer["now"]) == ("changed", str(levels[0].pk))
    assert "marked this meanwhile" in answer["sentence"]
    assert Mark.objects.get().level == levels[0]


def test_a_returned_turn_in_refuses_with_one_sentence(
    desk: Client, address: str, fields: dict[str, str], waiting: TurnIn, director: Membership
):
    turn_ins.ask_again(turn_in=waiting, attempt=1, by=director.user, at=now())
    response = desk.post(address, fields)
    assert (response.status_code, response.json()["kind"]) == (409, "refused")


@pytest.mark.parametrize(
    "wrong",
    [
        {"criterion": "0"},
        {"criterion": "x"},
        {"level": ""},
        {"level": "999999"},
        {"attempt": ""},
        {"attempt": "²"},
    ],
)
def test_what_a_page_cannot_mean_is_refused_in_a_sentence(
    desk: Client, address: str, fields: dict[str, str], wrong: dict[str, Any]
):
    response = desk.post(address, fields | wrong)
    assert response.status_code == 422
    assert response.json()["sentence"] == "This page is older than the rubric; open it again."
    assert Mark.objects.count() == 0


def test_a_signed_out_page_is_told_so(address: str, fields: dict[str, str]):
    response = Client().post(address, fields)
    assert response.status_code == 401


def test_only_posting_is_allowed(desk: Client, address: str):
    assert desk.get(address).status_code == 405


def test_a_student_with_nothing_in_has_nothing_to_mark(desk: Client, waiting: TurnIn, fields: dict[str, str]):
    address = reverse("submissions:desk-mark", args=[waiting.assignment_id, waiting.seat_id + 1])
    assert desk.post(address, fields).status_code == 404
