"""The layers of the house, and what a web worker must not load."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
HEAVY = ("music21", "verovio", "av", "numpy", "scipy", "weasyprint", "boto3")


LINTER = Path(sys.executable).with_name("lint-imports")


def test_import_contracts_hold():
    # in a process of its own: in this one it would set up logging anew for every test that follows
    told = subprocess.run([LINTER, "--no-cache"], cwd=ROOT, capture_output=True, text=True, check=False)
    assert told.returncode == 0, told.stdout


#: A module, an import that must not stand in it, and words of the contract that catches it.
PLANTED = {
    "people know exercises": ("bandroom/people/queries.py", "exercises.models", "never back"),
    "people: a query knows a view": ("bandroom/people/queries.py", "bandroom.people.views", "Inside people"),
    "exercises: a row knows a service": (
        "exercises/models/parts.py",
        "exercises.services",
        "Inside exercises",
    ),
    "takes know the desk": ("submissions/takes/queries.py", "submissions.grading.queries", "Which slice"),
    "check-ins know the desk": (
        "submissions/checkins/queries.py",
        "submissions.grading.queries",
        "Which slice",
    ),
    "a row knows a slice": ("submissions/models/takes.py", "submissions.takes.queries", "Which slice"),
    "a slice: a service knows a view": (
        "submissions/takes/services/press.py",
        "submissions.takes.views",
        "Inside a slice",
    ),
    "standing knows a move": (
        "submissions/turn_ins/standing.py",
        "submissions.turn_ins.services",
        "Inside turn-ins",
    ),
    "the listener knows Django": ("submissions/listening/score.py", "django", "listening engine"),
    "the listener knows preparing": (
        "submissions/listening/score.py",
        "submissions.preparing.reading",
        "Which slice",
    ),
    "the music engine knows rows": ("exercises/music/score.py", "exercises.models", "music engine"),
    "a page decodes sound": ("submissions/working/pages.py", "numpy", "Sound is decoded"),
}


@pytest.fixture(scope="module")
def copy_of_the_house(tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("house")
    for name in ("bandroom", "exercises", "submissions"):
        shutil.copytree(
            ROOT / name, home / name, ignore=shutil.ignore_patterns("static", "__pycache__", "data")
        )
    shutil.copy(ROOT / "pyproject.toml", home)
    return home


@pytest.mark.parametrize(("module", "planted", "contract"), PLANTED.values(), ids=list(PLANTED))
def test_a_planted_import_is_caught(copy_of_the_house: Path, module: str, planted: str, contract: str):
    path = copy_of_the_house / module
    before = path.read_text(encoding="utf-8")
    path.write_text(f"{before}\n\nimport {planted}\n", encoding="utf-8")
    try:
        told = subprocess.run(
            [LINTER, "--no-cache"],
            cwd=copy_of_the_house,
            env=os.environ | {"COLUMNS": "200"},  # a line a contract
            capture_output=True,
            text=True,
            check=False,
        )
    finally:
        path.write_text(before, encoding="utf-8")
    assert told.returncode == 1, told.stdout
    broken = [line for line in told.stdout.splitlines() if " BROKEN" in line]
    assert any(contract in line for line in broken), told.stdout


def test_a_web_worker_starts_without_any_heavy_library():
    script = (
        "import os, sys, django\n"
        "os.environ['DJANGO_SETTINGS_MODULE'] = 'bandroom.settings.test'\n"
        "django.setup()\n"
        "from django.urls import get_resolver\n"
        "get_resolver().url_patterns\n"
        "from django.core.management import call_command\n"
        "import bandroom.urls, bandroom.wsgi\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


def test_names_of_scripts_and_style_sheets_are_written_as_those_of_templates():
    apps = [ROOT / name for name in ("bandroom", "exercises", "submissions")]
    files = [path for app in apps for path in app.glob("**/static/**/*")]
    served = {path.name for path in files if path.suffix in {".js", ".css"}}
    assert {"my_work.js", "work.css"} <= served
    assert {name for name in served if not re.fullmatch(r"[a-z0-9_]+\.\w+", name)} == set()


@pytest.mark.parametrize(
    "folder", ["bandroom", "exercises", "submissions", "templates"], ids=lambda folder: f"in {folder}"
)
def test_no_page_carries_inline_script_style_or_handlers(folder: str):
    """The CSP would drop them without a word; a page must not rely on them."""
    guilty = [
        str(path.relative_to(ROOT))
        for path in (ROOT / folder).rglob("*.html")
        if any(
            mark in path.read_text(encoding="utf-8")
            for mark in (" style=", "<style", " onclick=", " onload=")
        )
    ]
    assert guilty == []


def test_no_two_types_have_one_name():
    """Who reads a name knows which of them is meant, whatever room they are in."""
    homes: dict[str, list[str]] = {}
    for app in ("bandroom", "exercises", "submissions"):
        for path in sorted((ROOT / app).rglob("*.py")):
            if {"migrations", "commands"}.isdisjoint(path.parts):
                for name in re.findall(r"^class ([A-Z]\w*)", path.read_text(encoding="utf-8"), re.MULTILINE):
                    homes.setdefault(name, []).append(str(path.relative_to(ROOT)))
    assert {name: paths for name, paths in homes.items() if len(paths) > 1} == {}
