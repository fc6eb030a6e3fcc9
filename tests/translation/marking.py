"""Spanish in which every translation stands between ⟦ and ⟧, and what a page says outside of them."""

import json
import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from html.parser import HTMLParser
from typing import Any

import pytest
from django.core.cache import caches
from django.utils.translation import trans_real
from django.utils.translation.trans_real import DjangoTranslation

INNERMOST = re.compile(r"⟦[^⟦⟧]*⟧")
#: Two letters in a row that no translation said. One letter is the name of a line or of a note.
ENGLISH = re.compile(r"[A-Za-zÀ-ÿ’]{2,}")
#: Attributes that are read out or shown.
SAID = {"aria-label", "alt", "title", "placeholder", "data-confirm", "data-confirm-yes", "data-pick-button"}
SAID |= {"data-words"}


class MarkedTranslation(DjangoTranslation):
    """The catalogue of a language; what it does not have comes back bare, and is found."""

    def gettext(self, message: str) -> str:
        found = self._catalog.get(message)  # type: ignore[attr-defined]
        return message if found is None else f"⟦{found}⟧"

    def ngettext(self, singular: str, plural: str, number: int) -> str:
        try:
            return f"⟦{self._catalog.plural(singular, number)}⟧"  # type: ignore[attr-defined]
        except KeyError:
            return singular if number == 1 else plural


@contextmanager
def spanish_with_marks() -> Iterator[None]:
    """Drawings made meanwhile are thrown away in the end: their words have marks."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(trans_real._translations, "es", MarkedTranslation("es"))
        caches["engravings"].clear()
        yield
    caches["engravings"].clear()


class Texts(HTMLParser):
    """What a page shows or says: text, attributes that are read out, and what its scripts will say."""

    def __init__(self) -> None:
        super().__init__()
        self.running: list[str] = []
        self.found: list[str] = []
        self.silent = 0
        self.data = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self.silent += tag in {"style", "script"}
        self.data = tag == "script" and given.get("type") == "application/json"
        self.found += [value for name, value in attrs if name in SAID and value]

    def handle_endtag(self, tag: str) -> None:
        self.silent -= tag in {"style", "script"}
        self.data = False

    def handle_data(self, data: str) -> None:
        if self.data:
            self.found += said_by_scripts(json.loads(data))
        elif not self.silent and data.strip():
            self.running.append(data.strip())


#: What of a page's data a script puts on the page; the rest are codes and numbers.
SPOKEN = {
    "words",
    "names",
    "places",
    "place",
    "name",
    "label",
    "no",
    "yes",
    "copied",
    "copiedSays",
    "selected",
}


def said_by_scripts(data: Any, *, spoken: bool = False) -> Iterator[str]:
    if isinstance(data, str) and spoken:
        yield data
    elif isinstance(data, dict):
        for key, value in data.items():
            yield from said_by_scripts(value, spoken=spoken or key in SPOKEN)
    elif isinstance(data, list):
        for value in data:
            yield from said_by_scripts(value, spoken=spoken)


def texts_of(html: str) -> list[str]:
    """All running text as one, since a translation may hold a link; the rest one by one."""
    parser = Texts()
    parser.feed(html)
    return ["\n".join(parser.running), *parser.found]


def left_in_english(texts: Iterable[str], *, data: Iterable[str]) -> list[str]:
    """Lines with words outside of every translation; `data` are names and titles that people typed."""
    known = sorted(data, key=len, reverse=True)
    lines = [line for text in texts for line in _outside(text, known).splitlines()]
    return [line for line in lines if ENGLISH.search(line)]


def _outside(text: str, known: list[str]) -> str:
    for words in known:
        text = text.replace(words, "")
    while INNERMOST.search(text):
        text = INNERMOST.sub("", text)
    # placeholders that a script fills in stand inside a translation; what is left of one is an error
    return text
