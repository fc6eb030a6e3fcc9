"""Name-ids: a first name and a number, unique, never the last name."""

import re

import pytest

from bandroom.people import name_ids
from bandroom.people.models import User
from bandroom.people.name_ids import base_of, new_name_ids, normal_name_id


@pytest.mark.parametrize(
    ("first_name", "base"),
    [
        ("Amaru", "amaru"),
        ("José Ángel", "jose-angel"),
        ("Søren", "soren"),
        ("Łucja", "lucja"),
        ("Weiß", "weiss"),
        ("Mary-Ann", "mary-ann"),
        ("O'Neil", "o-neil"),
        ("李", "player"),
        ("🎺", "player"),
        ("<b>Ada</b>", "b-ada-b"),
        ("Bartholomew-Maximilian", "bartholomew-maxi"),
    ],
)
def test_the_first_name_in_plain_letters(first_name: str, base: str) -> None:
    assert base_of(first_name) == base


@pytest.mark.django_db
def test_a_name_id_is_the_first_name_and_two_digits() -> None:
    [given] = new_name_ids(["Amaru"])
    assert re.fullmatch("amaru-[1-9][0-9]", given)


@pytest.mark.django_db
def test_five_hundred_children_of_one_name_get_different_name_ids(django_assert_num_queries) -> None:
    with django_assert_num_queries(1):
        given = new_name_ids(["Ada"] * 500)
    assert len(set(given)) == 500
    assert all(re.fullmatch("ada-[0-9]+", one) for one in given)


@pytest.mark.django_db
def test_a_stored_name_id_is_never_given_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """With only the numbers 10 and 11 to draw, the one that is taken is passed over."""
    User.objects.create_user("ada-10", first_name="Ada")
    draws = iter([0, 0, 0, 1])
    monkeypatch.setattr(name_ids.secrets, "randbelow", lambda _: next(draws))
    assert new_name_ids(["Ada"]) == ["ada-11"]


@pytest.mark.django_db
def test_unwanted_numbers_are_never_drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    draws = iter([59, 78, 2])  # 69, 88, 12
    monkeypatch.setattr(name_ids.secrets, "randbelow", lambda _: next(draws))
    assert new_name_ids(["Ada"]) == ["ada-12"]


@pytest.mark.parametrize(
    "typed", ["amaru-41", "Amaru 41", "amaru41", " AMARU – 41 ", "amaru_41", "ａｍａｒｕ-41"]
)
def test_a_child_may_type_it_in_many_ways(typed: str) -> None:
    assert normal_name_id(typed) == "amaru-41"


def test_a_name_id_of_two_names_reads_back_as_it_is() -> None:
    assert normal_name_id("Jose-Angel 07") == "jose-angel-07"
