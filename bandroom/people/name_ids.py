"""The name a student signs in with: the first name and a number, never the last name ("amaru-41")."""

import re
import secrets
import unicodedata
from collections.abc import Collection, Iterable

from bandroom.people.models import User

LONGEST_BASE = 16
# Digits of the number: two as long as they are free, more for a name that many share.
FEWEST_DIGITS, MOST_DIGITS = 2, 6
TRIES_A_LENGTH = 12
# Numbers that are a joke or a slogan to some; nobody should have to carry them on a card.
UNWANTED = frozenset({69, 88, 420, 666, 911, 1488})
# Letters that do not fall apart into a plain letter and a mark.
SPELLED_OUT = str.maketrans(
    {"ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i"}
)
# For a first name without a single Latin letter.
NO_LATIN_LETTER = "player"


def base_of(first_name: str) -> str:
    """The first name in plain small letters: "José Ángel" gives "jose-angel"."""
    plain = unicodedata.normalize("NFKD", first_name.casefold().translate(SPELLED_OUT))
    letters = "".join(letter for letter in plain if not unicodedata.combining(letter))
    return re.sub(r"[^a-z]+", "-", letters).strip("-")[:LONGEST_BASE].strip("-") or NO_LATIN_LETTER


def _candidate(base: str, *, digits: int) -> str:
    while True:
        lowest = 10 ** (digits - 1)
        number = lowest + secrets.randbelow(9 * lowest)
        if number not in UNWANTED:
            return f"{base}-{number}"


def _free(base: str, *, taken: Collection[str]) -> str:
    for digits in range(FEWEST_DIGITS, MOST_DIGITS + 1):
        for _ in range(TRIES_A_LENGTH):
            if (name_id := _candidate(base, digits=digits)) not in taken:
                return name_id
    raise RuntimeError(f"No name-id is left that starts with {base}-.")


def new_name_ids(first_names: Iterable[str]) -> list[str]:
    """A name-id for each first name, different from each other and from all that are stored; one query.

    Two requests at the same moment may still draw the same one: the column is unique, so the second is
    refused by the database and its transaction starts anew.
    """
    bases = [base_of(first_name) for first_name in first_names]
    starts = "|".join(sorted(set(bases)))
    stored = (
        User.objects.filter(sign_in_name__regex=rf"^({starts})-[0-9]+$") if bases else User.objects.none()
    )
    taken = set(stored.values_list("sign_in_name", flat=True))
    given = []
    for base in bases:
        name_id = _free(base, taken=taken)
        taken.add(name_id)
        given.append(name_id)
    return given


def normal_name_id(typed: str) -> str:
    """A name-id as stored, from whatever a child typed: "Amaru 41" and "AMARU–41" are "amaru-41"."""
    text = unicodedata.normalize("NFKC", typed).casefold()
    runs = re.findall(r"[a-z]+|[0-9]+", text)
    return "-".join(runs)
