"""Every student page is written for a sixth-grader or younger.

Flesch–Kincaid grade level: Kincaid, Fishburne, Rogers and Chissom, "Derivation of New Readability Formulas …
for Navy Enlisted Personnel", Research Branch Report 8-75, Naval Air Station Memphis, 1975:

    0.39 × words / sentences + 11.8 × syllables / words − 15.59
"""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from bandroom.people.instruments import Instrument
from submissions.working.checklists import usual_items

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
SIXTH_GRADE = 6.0
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


def sentences_of(text: str) -> list[list[str]]:
    """Words of every sentence; a line that has no full stop ends where it ends."""
    found = [re.findall(r"[A-Za-z][A-Za-z’'-]*|\d+", part) for part in re.split(r"[.!?:;]+(?:\s|$)|\n", text)]
    return [words for words in found if words]


SPOKEN_ENDS = ("ted", "ded", "ses", "ces", "ches", "shes", "ges")


def syllables(word: str) -> int:
    """Groups of vowels, a silent e at the end not counted: the usual count by machine."""
    word = re.sub(r"[^a-z]", "", word.lower())
    if len(word) <= 3:
        return 1
    count = len(re.findall(r"[aeiouy]+", word))
    ends_silent = word.endswith(("es", "ed")) and not word.endswith(SPOKEN_ENDS)
    ends_in_e = word.endswith("e") and not word.endswith("le")
    if ends_silent or ends_in_e:
        count -= 1
    return max(count, 1)


def grade(sentences: list[list[str]]) -> float:
    words = [word for sentence in sentences for word in sentence]
    spoken = sum(syllables(word) for word in words)
    return 0.39 * len(words) / len(sentences) + 11.8 * spoken / len(words) - 15.59


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
