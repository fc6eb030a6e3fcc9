"""The list of exercises; putting away and taking out."""

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from django.test import Client

from bandroom.people.models import Band, Section
from exercises.models import Exercise
from tests import factories
from tests.exercises.pages import text_of

pytestmark = pytest.mark.django_db
LIST = "/exercises/"


def test_an_empty_list_says_what_to_do(client: Client) -> None:
    page = text_of(client.get(LIST))
    assert "There is no exercise yet." in page
    assert 'href="/exercises/new/"' in page


def test_exercises_stand_newest_first_with_how_often_they_were_posted(
    client: Client, band: Band, section: Section, at: datetime
) -> None:
    older = factories.make_exercise(band=band, title="Older", at=at - timedelta(days=2))
    factories.make_exercise(band=band, title="Newer", at=at)
    for _ in range(2):
        factories.make_assignment(band=band, sections=[section], exercise=older)
    page = text_of(client.get(LIST))
    assert page.index("Newer") < page.index("Older")
    assert "2 times" in page
    assert "not yet" in page
    assert "B♭ major, 2 flats" in page


def test_another_bands_exercises_are_not_listed(client: Client) -> None:
    factories.make_exercise(band=factories.make_band(name="Other"), title="Not ours")
    assert "Not ours" not in text_of(client.get(LIST))


def test_a_put_away_exercise_leaves_the_list_and_comes_back(client: Client, exercise: Exercise) -> None:
    answer = client.post(f"/exercises/{exercise.pk}/put-away/", follow=True)
    assert "“Stepping Stones” is put away." in text_of(answer)
    assert "There is no exercise yet." in text_of(answer)
    assert "Stepping Stones" in text_of(client.get(f"{LIST}?away"))
    assert "This exercise is put away." in text_of(client.get(f"/exercises/{exercise.pk}/"))
    back = client.post(f"/exercises/{exercise.pk}/take-out/", follow=True)
    assert "is back among your exercises" in text_of(back)
    assert "Stepping Stones" in text_of(client.get(LIST))


def test_both_want_a_post(client: Client, exercise: Exercise) -> None:
    assert client.get(f"/exercises/{exercise.pk}/put-away/").status_code == 405
    assert client.get(f"/exercises/{exercise.pk}/take-out/").status_code == 405


def test_a_long_list_has_pages(client: Client, band: Band) -> None:
    for number in range(31):
        factories.make_exercise(band=band, title=f"Number {number}")
    assert "1 to 30 of 31 exercises" in text_of(client.get(LIST))
    assert "31 to 31 of 31 exercises" in text_of(client.get(f"{LIST}?page=2"))
    assert client.get(f"{LIST}?page=nonsense").status_code == 200


def test_thirty_exercises_cost_no_more_queries_than_one(
    client: Client, band: Band, section: Section, django_assert_num_queries: Callable[..., object]
) -> None:
    factories.make_assignment(
        band=band, sections=[section], exercise=factories.make_exercise(band=band, title="One")
    )
    # session, user, membership; count, exercises, lines
    with django_assert_num_queries(6):
        client.get(LIST)
    for _ in range(29):
        factories.make_assignment(band=band, sections=[section], exercise=factories.make_exercise(band=band))
    with django_assert_num_queries(6):
        client.get(LIST)
