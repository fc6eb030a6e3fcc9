"""A script of a student's page says nothing of its own: its sentences come from the server, translated."""

import re

import pytest

from submissions.working.offline import PARTS
from tests.translation.extraction import ROOT

#: Two words or more in quotes, beginning like a sentence.
SENTENCE = re.compile(r"""["'`][A-Z][a-z’']*(?: [\w’',;]+)+[.!?…]?["'`]""")
#: What nobody reads on a page: an error's own text, a note in the browser's console.
NOT_SHOWN = re.compile(r"console\.|\bthrow\b|Error\(")
#: Sentences for staff, whose pages are in English. A student's scripts catch these errors and say their own.
FOR_STAFF = {"csrf.js", "keys.js"}
FOLDERS = {
    "bandroom/js": ROOT / "bandroom" / "static",
    "exercises/js": ROOT / "exercises" / "static",
    "submissions/js": ROOT / "submissions" / "static",
    "people/js": ROOT / "bandroom" / "people" / "static",
}
SCRIPTS = sorted(
    path
    for pattern in (*PARTS, "submissions/js/slot_pick.js", "people/js/sign_in.js")
    if pattern.endswith(".js") or pattern.endswith("/js/*")
    for folder, root in FOLDERS.items()
    if pattern.startswith(folder)
    for path in root.glob(pattern)
    if path.name not in FOR_STAFF
)


def sentences_in(script: str) -> list[str]:
    code = re.sub(r"/\*.*?\*/", "", script, flags=re.DOTALL)
    lines = [re.sub(r"(^|\s)//.*", "", line) for line in code.splitlines()]
    return [found for line in lines if not NOT_SHOWN.search(line) for found in SENTENCE.findall(line)]


def test_a_sentence_in_a_script_is_found():
    assert sentences_in('x.textContent = "No sound yet";') == ['"No sound yet"']
    assert sentences_in('/* it says "Not yet here" */ // `Not here`\nx = words.none;') == []


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_a_students_script_says_nothing_of_its_own(path):
    assert sentences_in(path.read_text(encoding="utf-8")) == []


def test_the_scripts_of_every_step_are_among_them():
    assert {"record.js", "work.js", "signs.js", "beat.js", "confirm.js", "slot_pick.js"} <= {
        path.name for path in SCRIPTS
    }
