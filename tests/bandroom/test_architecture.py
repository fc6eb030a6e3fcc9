"""The layers of the house, and what a web worker must not load."""

import re
import subprocess
import sys
from pathlib import Path

import pytest
from importlinter.cli import lint_imports

ROOT = Path(__file__).resolve().parents[2]
HEAVY = ("music21", "verovio", "av", "numpy", "scipy", "weasyprint", "boto3")


def test_import_contracts_hold():
    assert lint_imports(config_filename=str(ROOT / "pyproject.toml"), no_cache=True) == 0


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
