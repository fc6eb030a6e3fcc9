"""Nothing that is marked for translation is missing in any language, and nothing there is out of date."""

import ast
import json
import re
import string
from collections.abc import Iterator

import pytest
from django.conf import settings

from bandroom.people.instruments import Instrument
from exercises.music import data_words
from exercises.music.instruments import INSTRUMENTS
from tests.translation.catalogue import LANGUAGES, catalogue, compiled, entries
from tests.translation.extraction import ROOT, Message, in_python, in_template, marked

PERCENT = re.compile(r"%\((\w+)\)[sd]")
TAGS = re.compile(r"</?\w+[^>]*>")
in_every_language = pytest.mark.parametrize("language", LANGUAGES)


def placeholders(text: str) -> list[str]:
    """Sorted; of a message written for a script or for format() as well as for %."""
    braces = [name for _text, name, _spec, _conversion in string.Formatter().parse(text) if name is not None]
    return sorted([*PERCENT.findall(text), *(braces if "%(" not in text else [])])


def test_marks_are_found_in_python_and_in_templates():
    """Typed by hand, each way of marking once."""
    python = (
        '_("one")\ngettext_lazy("two")\nngettext("a day", "%d days", n)\npgettext("clock", "am")\n_(LATER)\n'
    )
    assert list(in_python(python)) == [
        Message("", "one", ""),
        Message("", "two", ""),
        Message("", "a day", "%d days"),
        Message("clock", "am", ""),
    ]
    template = (
        '{% load i18n %}<p title="{% translate "It’s \'here\'" %}">{{ _("bare")|title }}</p>'
        "{% blocktranslate trimmed count n=days with name=who %}\n  {{ n }} day,\n  {{ name }}{% plural %}"
        '{{ n }} days{% endblocktranslate %}{% include "a.html" with says=_("Nothing (yet).") %}'
    )
    assert set(in_template(template)) == {
        Message("", "It’s 'here'", ""),
        Message("", "bare", ""),
        Message("", "%(n)s day, %(name)s", "%(n)s days"),
        Message("", "Nothing (yet).", ""),
    }


def test_every_language_that_can_be_chosen_has_a_catalogue():
    assert ["en", *LANGUAGES] == [code for code, _name in settings.LANGUAGES]


@in_every_language
def test_every_marked_sentence_is_translated(language: str):
    known = entries(catalogue(language))
    missing = {
        message.singular: place for message, place in marked().items() if not all(known.get(message, ("",)))
    }
    assert missing == {}, "run python -m tests.translation, then translate what it names"


@in_every_language
def test_no_translation_is_a_guess_or_left_over(language: str):
    assert [each.id for each in catalogue(language) if each.id and each.fuzzy] == []
    assert set(entries(catalogue(language))) == set(marked())
    assert not catalogue(language).obsolete


@in_every_language
def test_translations_fill_in_what_the_english_fills_in(language: str):
    wrong = []
    for message, strings in entries(catalogue(language)).items():
        allowed = [placeholders(text) for text in (message.singular, message.plural) if text]
        wrong += [text for text in strings if placeholders(text) not in allowed]
        wrong += [text for text in strings if TAGS.findall(text) != TAGS.findall(message.singular)]
    assert wrong == []


@in_every_language
def test_what_a_server_reads_is_what_translators_wrote(language: str):
    """The compiled catalogue is in the repository, so that a server needs no gettext tools."""
    assert compiled(language) == entries(catalogue(language)), "run python -m tests.translation"


def test_sentences_of_the_fingering_tables_are_marked():
    tables = ROOT / "exercises" / "music" / "data"
    rules = json.loads((tables / "alternates.json").read_text(encoding="utf-8"))["rules"]
    woodwinds = json.loads((tables / "woodwinds.json").read_text(encoding="utf-8"))
    said = {rule["say"] for rule in rules}
    said |= {
        row["hint"]
        for rows in woodwinds.values()
        if isinstance(rows, list)
        for row in rows
        if row.get("hint")
    }
    assert set(data_words.FOR_TRANSLATORS) == said


@pytest.mark.parametrize("player", list(Instrument))
def test_every_instrument_has_a_name_to_translate(player: Instrument):
    assert player in INSTRUMENTS
    assert Message("", player.label, "") in marked()


#: Where a student can be refused.
REFUSING = (
    "turn_ins/services.py",
    "takes",
    "checkins/services/booking.py",
    "checkins/views/booking.py",
    "working",
)
REFUSALS = {
    *("Refused", "TakeRefused", "Malformed", "BadHeader", "LengthRequired", "WrongVersion", "WrongType"),
    *("TooBig", "NotAllowed", "SomebodyElse", "WrongOffset", "NoRoom", "Busy"),
}


def test_every_refusal_a_student_can_meet_is_translated():
    """What is said is a call of _() or a name, never a sentence as it stands."""
    bare = []
    for place in REFUSING:
        path = ROOT / "submissions" / place
        for file in sorted(path.rglob("*.py")) if path.is_dir() else [path]:
            for node in _said_to_students(ast.parse(file.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Call) and getattr(node.func, "id", "") in REFUSALS:
                    bare += [ast.unparse(node) for first in node.args[:1] if _is_bare(first)]
    assert bare == []


def _said_to_students(tree: ast.Module) -> Iterator[ast.AST]:
    """All but what an adult does: a move that says by whom, or what waits for a mark."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and (
            node.name == "waiting_turn_in" or "by" in {argument.arg for argument in node.args.kwonlyargs}
        ):
            continue
        yield from ast.walk(node)


def _is_bare(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant | ast.JoinedStr)
