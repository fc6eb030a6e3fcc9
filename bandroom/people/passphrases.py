"""Three plain words that a child can read from a card and type: how they are made and read back.

The list is our own: short, common, child-safe English words of 3 to 9 letters, without the words that
insult, tease or sound like another one as soon as they stand beside each other. With its 1,095 words three
different ones in a row have log2(1095 * 1094 * 1093) = 30.3 bits of entropy: far too much to guess through
the sign-in page, which slows guessing down (`throttle.py`), and what is stored is a slow hash.
"""

import re
import secrets
import unicodedata
from collections.abc import Sequence
from functools import cache
from pathlib import Path

WORDS_FILE = Path(__file__).parent / "data" / "passphrase_words.txt"
WORDS_IN_A_PASSPHRASE = 3
NO_LETTERS = re.compile(r"[^a-z]+")


@cache
def passphrase_words() -> tuple[str, ...]:
    return tuple(WORDS_FILE.read_text(encoding="ascii").split())


def new_passphrase() -> str:
    """Three different words, "copper-lantern-river", drawn by the operating system's random source."""
    left = list(passphrase_words())
    return "-".join(left.pop(secrets.randbelow(len(left))) for _ in range(WORDS_IN_A_PASSPHRASE))


def normal_passphrase(typed: str | Sequence[str]) -> str:
    """A passphrase as it is hashed: small letters, single hyphens.

    `typed` is one text or the words one by one. Capitals, spaces, hyphens, commas and full-width letters of a
    phone's keyboard do not matter.
    """
    text = typed if isinstance(typed, str) else " ".join(typed)
    return NO_LETTERS.sub("-", unicodedata.normalize("NFKC", text).casefold()).strip("-")
