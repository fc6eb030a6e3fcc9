"""Three plain words: where they come from, how forgivingly they are read."""

import math
import re

import pytest

from bandroom.people.passphrases import new_passphrase, normal_passphrase, passphrase_words


def test_the_list_is_long_plain_and_without_repeats() -> None:
    words = passphrase_words()
    assert len(words) >= 1024
    assert len(set(words)) == len(words)
    assert [word for word in words if not re.fullmatch("[a-z]{3,9}", word)] == []
    assert list(words) == sorted(words)


def test_the_entropy_is_what_the_docstring_says() -> None:
    count = len(passphrase_words())
    assert count == 1095
    assert math.log2(count * (count - 1) * (count - 2)) == pytest.approx(30.3, abs=0.05)


def test_a_passphrase_is_three_different_words_of_the_list() -> None:
    words = set(passphrase_words())
    for _ in range(200):
        drawn = new_passphrase().split("-")
        assert len(drawn) == len(set(drawn)) == 3
        assert set(drawn) <= words


def test_passphrases_are_drawn_from_the_whole_list() -> None:
    """Three thousand words leave each of 1,095 out with a probability of 0.06."""
    seen = {word for _ in range(1000) for word in new_passphrase().split("-")}
    assert len(seen) > 900


@pytest.mark.parametrize(
    "typed",
    [
        "copper-lantern-river",
        "Copper Lantern River",
        "  COPPER   lantern-river ",
        "copper – lantern — river",
        "copper,lantern,river.",
        "ｃｏｐｐｅｒ lantern river",
        ["copper", "lantern", "river"],
        ["Copper ", "", "lantern river"],
        ["copper lantern river", "", ""],
    ],
)
def test_capitals_spaces_and_hyphens_do_not_matter(typed: str | list[str]) -> None:
    assert normal_passphrase(typed) == "copper-lantern-river"


@pytest.mark.parametrize("typed", ["copperlanternriver", "lantern-copper-river", "copper-lantern", "", "123"])
def test_other_words_stay_other_words(typed: str) -> None:
    assert normal_passphrase(typed) != "copper-lantern-river"
