"""Copying, withdrawing and bringing back, as buttons."""

import pytest

from submissions.models import Assignment
from tests.submissions.assigning.pages import said, statuses

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("on_tuesday")]
MOVES = ["copy", "withdraw", "bring-back"]


@pytest.fixture
def press(as_director, assignment):
    return lambda move: as_director.post(f"/assignments/{assignment.pk}/{move}/")


def test_a_copy_opens_to_be_changed(press, assignment, director):
    response = press("copy")
    copied = Assignment.objects.exclude(pk=assignment.pk).get()
    assert (response.status_code, response.url) == (302, f"/assignments/{copied.pk}/edit/")
    assert said(response) == [
        "No. 2, Stepping Stones is posted, due Thursday 15 October, 7:00 am. "
        "Change below what should be different."
    ]
    assert copied.created_by == director.user


def test_a_copy_that_cannot_be_made_says_why(press, assignment):
    assignment.postings.all().delete()
    response = press("copy")
    assert (response.status_code, response.url) == (302, "/assignments/")
    assert said(response) == ["This assignment is posted to no section; post it anew instead."]


def test_withdrawn_and_brought_back(press, assignment, at):
    response = press("withdraw")
    assert (response.status_code, response.url) == (302, "/assignments/")
    assert said(response) == [
        "No. 1, Stepping Stones is withdrawn: students no longer see it, all work and marks are kept."
    ]
    assignment.refresh_from_db()
    assert assignment.withdrawn_at == at

    assert said(press("bring-back"))[-1] == "No. 1, Stepping Stones is back: students see it again."
    assignment.refresh_from_db()
    assert assignment.withdrawn_at is None


def test_pressed_twice_says_so_and_changes_nothing(press, assignment, at):
    press("withdraw")
    response = press("withdraw")
    assert said(response)[-1] == (
        "This assignment is withdrawn already; bring it back if students should see it."
    )
    press("bring-back")
    assert said(press("bring-back"))[-1] == "This assignment is not withdrawn; students see it."


@pytest.mark.parametrize("move", MOVES)
def test_only_the_bands_directors_press_them(
    as_substitute, as_student, as_stranger, visitor, assignment, move
):
    url = f"/assignments/{assignment.pk}/{move}/"
    people = (as_substitute, as_student, as_stranger, visitor)
    assert statuses(url, *people, method="post") == [404, 404, 404, 401]
    assert Assignment.objects.count() == 1
    assignment.refresh_from_db()
    assert assignment.withdrawn_at is None


@pytest.mark.parametrize("move", MOVES)
def test_reading_an_address_moves_nothing(as_director, assignment, move):
    assert statuses(f"/assignments/{assignment.pk}/{move}/", as_director) == [405]
    assert Assignment.objects.count() == 1
