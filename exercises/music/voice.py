"""In which language does the engine speak? English, unless whoever uses it brings a translator.

The engine's sentences are English and stand where they are said, as `_("Rest: count it, do not play.")`.
Whoever shows them in other languages calls `speak_by` once with anything that has the three functions of
Python's `gettext`; from then on each sentence is asked for when it is said, never when it is stored. Words in
braces are filled in afterwards: `_("beat {number}").format(number=3)`.
"""

from collections.abc import Sequence
from gettext import NullTranslations
from typing import Protocol


class Translator(Protocol):
    """Python's own `gettext` classes fit, and so does a web framework's module of translations."""

    def gettext(self, message: str, /) -> str: ...
    def ngettext(self, singular: str, plural: str, number: int, /) -> str: ...
    def pgettext(self, context: str, message: str, /) -> str: ...


class _Voice:
    """Who translates now."""

    translator: Translator = NullTranslations()


def speak_by(translator: Translator) -> None:
    """From now on all of the engine speaks through this translator."""
    _Voice.translator = translator


def gettext(message: str) -> str:
    """The message in the language spoken now; "" stays ""."""
    return _Voice.translator.gettext(message) if message else ""


def ngettext(singular: str, plural: str, number: int) -> str:
    return _Voice.translator.ngettext(singular, plural, number)


def pgettext(context: str, message: str) -> str:
    return _Voice.translator.pgettext(context, message)


def gettext_noop(message: str) -> str:
    """Marks a message that is translated where it is said."""
    return message


def listed(words: Sequence[str]) -> str:
    """ "B", "B and E", "B, E and A"."""
    *before, last = words
    return gettext("{before} and {last}").format(before=", ".join(before), last=last) if before else last
