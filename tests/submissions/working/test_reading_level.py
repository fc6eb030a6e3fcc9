"""Every student page is written for a sixth-grader or younger, in English and in Spanish.

The formulas stand in tests/readability.py.
"""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from bandroom.people.instruments import Instrument
from submissions.working.checklists import usual_items
from tests.readability import (
    QUITE_EASY,
    SIXTH_GRADE,
    grade,
    perspicuity,
    sentences_of,
    spanish_syllables,
    syllables,
)
from tests.translation.catalogue import catalogue

TEMPLATES = Path(__file__).parents[3] / "templates"
#: Pages and parts of pages that only a director sees.
STAFF = {"checklists.html", "checklist.html"}
CHECK_INS = ("pick", "_picks", "_booked", "_calendar", "_meeting", "calendar_address", "slot_student")
PAGES = sorted(
    path
    for path in (
        *(TEMPLATES / "submissions" / "working").rglob("*.html"),
        *(TEMPLATES / "submissions" / "checkins" / f"{name}.html" for name in CHECK_INS),
        *(TEMPLATES / "people" / name for name in ("sign_in.html", "door.html")),
        *(TEMPLATES / f"{status}.html" for status in ("404", "429", "500")),
    )
    if path.name not in STAFF
)
#: Fewer words than this are a label or two, of which a grade says nothing.
LEAST_WORDS = 25
ENDS = {"p", "li", "h1", "h2", "h3", "summary", "label", "legend", "button", "td", "div", "option", "a", "b"}


class Words(HTMLParser):
    """The text of a page; what stands in a block of its own is a sentence of its own."""

    def __init__(self) -> None:
        super().__init__()
        self.text: list[str] = []
        self.silent = 0

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self.silent += tag in {"svg", "script", "style"}
        if tag in ENDS - {"a", "b"}:
            self.text.append("\n")

    def handle_endtag(self, tag: str) -> None:
        self.silent -= tag in {"svg", "script", "style"}
        if tag in ENDS - {"a", "b"}:
            self.text.append("\n")

    def handle_data(self, data: str) -> None:
        if not self.silent:
            self.text.append(data)


def text_of(template: str) -> str:
    """What a template says in all its branches; a value is read as one short word."""
    template = re.sub(r"{% comment %}.*?{% endcomment %}|{#.*?#}", "", template, flags=re.DOTALL)
    said = re.findall(r'_\("([^"]+)"\)', template)
    template = re.sub(r'{% translate "([^"]+)".*?%}', r"\1", template)
    template = re.sub(r"{% plural %}", "\n", template)
    template = re.sub(r"{%.*?%}", " ", template, flags=re.DOTALL)
    template = re.sub(r"{{.*?}}", "one", template, flags=re.DOTALL)
    parser = Words()
    parser.feed(template)
    return "".join(parser.text) + "\n" + "\n".join(said)


#: Syllables as any dictionary divides them; typed by hand.
DICTIONARY = {
    "tap": 1,
    "note": 1,
    "bars": 1,
    "rhythm": 1,
    "headphones": 2,
    "director": 3,
    "recording": 3,
    "assignment": 3,
    "fingered": 2,
    "names": 1,
    "clarinet": 3,
    "again": 2,
    "little": 2,
    "recorded": 3,
    "mouthpiece": 2,
}


@pytest.mark.parametrize(("word", "count"), DICTIONARY.items())
def test_syllables_are_counted_as_a_dictionary_divides_them(word: str, count: int):
    assert syllables(word) == count


def test_the_formula_gives_the_value_worked_by_hand():
    """Six words of one syllable in one sentence: 0.39 × 6 + 11.8 × 1 − 15.59 = −1.45."""
    assert grade(sentences_of("The cat sat on the mat.")) == pytest.approx(-1.45)


def test_hard_words_are_found_out():
    hard = "Institutional accountability necessitates comprehensive documentation of participation."
    assert grade(sentences_of(hard)) > 20


@pytest.mark.parametrize("path", PAGES, ids=lambda path: str(path.relative_to(TEMPLATES)))
def test_a_student_page_reads_at_sixth_grade_or_below(path: Path):
    sentences = sentences_of(text_of(path.read_text(encoding="utf-8")))
    if sum(map(len, sentences)) < LEAST_WORDS:
        pytest.skip("a label or two")
    assert grade(sentences) <= SIXTH_GRADE


def test_all_running_text_together_reads_at_sixth_grade_or_below():
    """Labels left out, which would make it look easier: only sentences of five words or more."""
    text = "\n".join(text_of(path.read_text(encoding="utf-8")) for path in PAGES)
    running = [sentence for sentence in sentences_of(text) if len(sentence) >= 5]
    assert len(running) > 80
    assert grade(running) <= SIXTH_GRADE


@pytest.mark.parametrize("player", list(Instrument))
def test_the_usual_checklists_read_at_sixth_grade_or_below(player: Instrument):
    assert grade(sentences_of("\n".join(usual_items(player)))) <= SIXTH_GRADE


#: What stands for a word that is filled in: as short as what usually does.
FILLED_IN = re.compile(r"%\(\w+\)[sd]|\{\w+\}")
#: Where the engine says to a student why, by file.
REASONS = {
    "exercises/music/reading.py": 10,
    "exercises/music/data_words.py": 10,
    "exercises/music/fingerings.py": 2,
    "exercises/music/little_fingers.py": 2,
    "exercises/music/fingering_tables.py": 3,
}


CATALOGUE = list(catalogue("es"))


def said_in(place: str) -> tuple[str, str]:
    """All that a file says, in English and in Spanish, each message a line."""
    english, spanish = [], []
    for each in CATALOGUE:
        if each.id and place in {path for path, _line in each.locations}:
            english += [each.id] if isinstance(each.id, str) else list(each.id)
            spanish += [each.string] if isinstance(each.string, str) else list(each.string)
    return FILLED_IN.sub("one", "\n".join(english)), FILLED_IN.sub("uno", "\n".join(spanish))


@pytest.mark.parametrize("place", REASONS)
def test_the_engine_tells_why_in_words_of_a_sixth_grader(place: str):
    text, _spanish = said_in(place)
    running = [sentence for sentence in sentences_of(text) if len(sentence) >= 4]
    assert len(running) >= REASONS[place]
    assert grade(running) <= SIXTH_GRADE


#: Divided by hand, after the orthography of the Real Academia Española (2010).
DIVIDED = {
    "no-ta": "nota",
    "com-pás": "compás",
    "tiem-po": "tiempo",
    "gra-ba-ción": "grabación",
    "mi-cró-fo-no": "micrófono",
    "dí-a": "día",
    "guar-da-da": "guardada",
    "si-guien-te": "siguiente",
    "quie-ras": "quieras",
    "o-í-do": "oído",
    "a-ho-ra": "ahora",
    "cui-da": "cuida",
    "hoy": "hoy",
    "tu-yo": "tuyo",
    "au-dí-fo-nos": "audífonos",
    "de-le-tre-o": "deletreo",
}


@pytest.mark.parametrize(("divided", "word"), DIVIDED.items())
def test_spanish_syllables_are_counted_as_they_are_divided(divided: str, word: str):
    assert spanish_syllables(word) == len(divided.split("-"))


def test_the_spanish_formula_gives_the_value_worked_by_hand():
    """Five words of ten syllables in one sentence: 206.835 − 62.3 × 2 − 5 = 77.235."""
    assert perspicuity(sentences_of("Toca otra nota más larga.")) == pytest.approx(206.835 - 62.3 * 9 / 5 - 5)
    assert perspicuity([["nota"] * 5]) == pytest.approx(77.235)


def spanish_sentences(place: str) -> list[list[str]]:
    return [sentence for sentence in sentences_of(said_in(place)[1]) if len(sentence) >= 4]


SPANISH_PLACES = sorted({path for each in CATALOGUE for path, _line in each.locations})
#: A file with a label or two says nothing of a grade.
SPEAKING = [place for place in SPANISH_PLACES if sum(map(len, spanish_sentences(place))) >= LEAST_WORDS]


@pytest.mark.parametrize("place", SPEAKING)
def test_what_a_student_reads_in_spanish_is_quite_easy(place: str):
    assert perspicuity(spanish_sentences(place)) >= QUITE_EASY


def test_all_spanish_sentences_together_are_quite_easy():
    text = "\n".join(said_in(place)[1] for place in SPANISH_PLACES)
    running = [sentence for sentence in sentences_of(text) if len(sentence) >= 5]
    assert len(running) > 300
    assert perspicuity(running) >= QUITE_EASY
