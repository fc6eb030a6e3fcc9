"""Excused, live, on paper, opened again, on time: each a button with a way back."""

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now

from bandroom.people.models import Membership, Seat
from submissions.models import Assignment, TurnIn
from submissions.turn_ins import services as turn_ins

pytestmark = pytest.mark.django_db
NAMES = ("excuse", "unexcuse", "live", "unlive", "reopen", "lateness")


def press(desk: Client, assignment: Assignment, seat: Seat, name: str, query: str = "", **fields: str):
    address = reverse(f"submissions:desk-{name}", args=[assignment.pk, seat.pk])
    return desk.post(address + query, fields)


def page_of(assignment: Assignment, seat: Seat, query: str = "") -> str:
    return reverse("submissions:desk-seat", args=[assignment.pk, seat.pk]) + query


def test_an_excuse_is_given_and_taken_back(desk: Client, assignment: Assignment, waiting: TurnIn):
    response = press(desk, assignment, waiting.seat, "excuse", "?period=2", reason=" in repair ")
    assert response["Location"] == reverse("submissions:desk", args=[assignment.pk]) + "?period=2"
    waiting.refresh_from_db()
    assert (waiting.state, waiting.excuse) == (TurnIn.State.EXCUSED, "in repair")
    response = press(desk, assignment, waiting.seat, "unexcuse", "?period=2")
    assert response["Location"] == page_of(assignment, waiting.seat, "?period=2")
    waiting.refresh_from_db()
    assert (waiting.state, waiting.excuse) == (TurnIn.State.WAITING, "")


def test_a_student_with_nothing_in_can_be_excused(desk: Client, assignment: Assignment, seat: Seat):
    press(desk, assignment, seat, "excuse")
    assert TurnIn.objects.get().state == TurnIn.State.EXCUSED


def test_a_reason_too_long_is_said(desk: Client, assignment: Assignment, seat: Seat):
    response = press(desk, assignment, seat, "excuse", reason="x" * 201)
    assert response.status_code == 422
    assert "Keep the reason under 200 characters." in response.content.decode()
    assert TurnIn.objects.count() == 0


@pytest.mark.parametrize("route", ["check_in", "paper"])
def test_nothing_in_is_opened_live_or_on_paper_and_undone(
    desk: Client, assignment: Assignment, seat: Seat, route: str
):
    response = press(desk, assignment, seat, "live", route=route)
    assert response["Location"] == page_of(assignment, seat)
    row = TurnIn.objects.get()
    assert (row.state, row.route) == (TurnIn.State.WAITING, route)
    assert b"There is no take to hear." in desk.get(page_of(assignment, seat)).content
    press(desk, assignment, seat, "unlive")
    row.refresh_from_db()
    assert row.state == TurnIn.State.EMPTY


def test_live_or_paper_must_be_one_of_the_two(desk: Client, assignment: Assignment, seat: Seat):
    response = press(desk, assignment, seat, "live", route="recording")
    assert response.status_code == 422
    assert "Choose live or paper." in response.content.decode()
    assert TurnIn.objects.count() == 0


def test_a_return_is_opened_again(
    desk: Client, assignment: Assignment, waiting: TurnIn, director: Membership
):
    turn_ins.ask_again(turn_in=waiting, attempt=1, by=director.user, at=now())
    press(desk, assignment, waiting.seat, "reopen")
    waiting.refresh_from_db()
    assert waiting.state == TurnIn.State.WAITING


@pytest.mark.parametrize(("counts", "kept"), [("on_time", True), ("late", False), ("rule", None)])
def test_the_directors_word_on_lateness(
    desk: Client, assignment: Assignment, waiting: TurnIn, counts: str, kept: bool | None
):
    TurnIn.objects.update(counts_as_on_time=True)
    press(desk, assignment, waiting.seat, "lateness", counts=counts)
    waiting.refresh_from_db()
    assert waiting.counts_as_on_time is kept


def test_lateness_needs_one_of_three_words(desk: Client, assignment: Assignment, waiting: TurnIn):
    response = press(desk, assignment, waiting.seat, "lateness", counts="maybe")
    assert response.status_code == 422
    assert "Choose on time, late, or as the rule says." in response.content.decode()


@pytest.mark.parametrize("name", ["unexcuse", "unlive", "reopen"])
def test_a_way_back_pressed_twice_says_what_stands(
    desk: Client, assignment: Assignment, waiting: TurnIn, name: str
):
    response = press(desk, assignment, waiting.seat, name)
    assert response.status_code == 409
    assert 'role="alert"' in response.content.decode()
    waiting.refresh_from_db()
    assert waiting.state == TurnIn.State.WAITING


@pytest.mark.parametrize("name", NAMES)
def test_only_posting_is_allowed(desk: Client, assignment: Assignment, waiting: TurnIn, name: str):
    address = reverse(f"submissions:desk-{name}", args=[assignment.pk, waiting.seat_id])
    assert desk.get(address).status_code == 405
