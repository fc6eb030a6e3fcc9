"""README names every setting and every command there is, and none that there is not."""

import ast
import re
from pathlib import Path

from django.conf import settings
from django.core.management import get_commands

BASE = Path(settings.BASE_DIR)
README = (BASE / "README.md").read_text()
OURS = ("bandroom", "bandroom.people", "exercises", "submissions")
#: Read by Django itself.
BY_DJANGO = {"DJANGO_SETTINGS_MODULE"}
#: Django's own commands that a school needs.
OF_DJANGO = {"migrate", "collectstatic", "check"}
READERS = {"text", "words", "flag", "number", "get"}


def read_by(path: Path) -> set[str]:
    """Names that a module asks the environment for."""
    calls = [node for node in ast.walk(ast.parse(path.read_text())) if isinstance(node, ast.Call)]
    return {
        first.value
        for call in calls
        if isinstance(call.func, ast.Attribute) and call.func.attr in READERS and call.args
        for first in call.args[:1]
        if isinstance(first, ast.Constant) and isinstance(first.value, str) and first.value.isupper()
    }


def settings_read() -> set[str]:
    modules = [path for path in (BASE / "bandroom" / "settings").glob("*.py") if path.name != "test.py"]
    return set().union(
        *(read_by(path) for path in [*modules, BASE / "bandroom" / "deploy" / "gunicorn.conf.py"])
    )


def first_column(row_of: str) -> set[str]:
    """What stands in backticks in the first column of the table with this heading."""
    rows = README.split(f"| name | {row_of} |", 1)[1].split("\n\n", 1)[0].splitlines()[2:]
    return {name for row in rows for name in re.findall(r"`([^`]+)`", row.split("|")[1])}


def test_every_setting_is_named():
    assert settings_read() >= {"SECRET_KEY", "S3_BUCKET", "TAKES_DELIVERY", "GUNICORN_BIND"}
    assert first_column("meaning") == settings_read() | BY_DJANGO


def test_every_command_is_named():
    ours = {name for name, app in get_commands().items() if app in OURS}

    assert ours >= {"backup", "work", "serve"}
    assert {command.split()[0] for command in first_column("what it does")} == ours | OF_DJANGO
