"""The note kept as it is typed."""

import pytest
from django.test import Client
from django.urls import reverse

from submissions.grading.services.marks import ReturnNote, note_key
from submissions.models import Return, TurnIn

pytestmark = pytest.mark.django_db


@pytest.fixture
def address(waiting: TurnIn) -> str:
    return reverse("submissions:desk-note", args=[waiting.assignment_id, waiting.seat_id])


FIELDS = {"attempt": "1", "worked": " Steady. ", "next_step": "Slower.", "look_at": "B2", "seen": ""}


def test_the_note_is_kept_and_not_yet_returned(desk: Client, address: str):
    response = desk.post(address, FIELDS)
    assert response.json() == {"saved": note_key(ReturnNote("Steady.", "Slower.", "B2"))}
    kept = Return.objects.get()
    assert (kept.worked, kept.next_step, kept.look_at, kept.returned_at) == ("Steady.", "Slower.", "B2", None)


def test_it_may_be_emptied_again(desk: Client, address: str):
    first = desk.post(address, FIELDS).json()["saved"]
    emptied = {"worked": "", "next_step": "", "look_at": "", "seen": first}
    assert desk.post(address, FIELDS | emptied).json() == {"saved": ""}


def test_another_adults_words_are_not_lost(desk: Client, address: str):
    desk.post(address, FIELDS)
    response = desk.post(address, FIELDS | {"worked": "Clear."})
    assert (response.status_code, response.json()["kind"]) == (409, "changed")
    assert Return.objects.get().worked == "Steady."


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"worked": "x" * 1001}, "Keep this part of the note under 1000 characters."),
        ({"look_at": "A99"}, "That bar is not in this exercise; choose another."),
        ({"attempt": ""}, "This page is older than the rubric; open it again."),
    ],
)
def test_what_cannot_be_kept_is_said_in_one_sentence(
    desk: Client, address: str, wrong: dict[str, str], sentence: str
):
    response = desk.post(address, FIELDS | wrong)
    assert (response.status_code, response.json()["sentence"]) == (422, sentence)
    assert Return.objects.count() == 0


def test_only_posting_is_allowed(desk: Client, address: str):
    assert desk.get(address).status_code == 405
