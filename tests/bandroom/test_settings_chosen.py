"""`manage.py` guesses no settings on a school's server."""

import os
import subprocess
import sys

import pytest
from django.conf import settings

from bandroom.settings.choosing import LAPTOP, settings_for


@pytest.mark.parametrize(
    "sign", ["SECRET_KEY", "SECRET_KEY_FILE", "ALLOWED_HOSTS", "DATABASE_URL", "S3_BUCKET"]
)
def test_settings_of_a_school_without_a_module_are_refused(sign, tmp_path):
    with pytest.raises(LookupError, match="looks like a school's server"):
        settings_for(["manage.py", "migrate"], {sign: "x"}, unit_settings=tmp_path / "none")


def test_a_machine_with_the_units_settings_is_a_school(tmp_path):
    unit = tmp_path / "environment"
    unit.write_text("ALLOWED_HOSTS=band.school.example")

    with pytest.raises(LookupError, match=r"environment exists"):
        settings_for(["manage.py", "migrate"], {}, unit_settings=unit)


def test_a_laptop_needs_nothing_and_what_was_said_is_taken(tmp_path):
    none = tmp_path / "none"

    assert settings_for(["manage.py", "serve"], {"BANDROOM_VAR": "/srv/x"}, unit_settings=none) == LAPTOP
    said = {"DJANGO_SETTINGS_MODULE": "bandroom.settings.production", "SECRET_KEY": "x"}
    assert settings_for(["manage.py"], said, unit_settings=none) == "bandroom.settings.production"
    option = ["manage.py", "check", "--settings=bandroom.settings.production"]
    assert settings_for(option, {"SECRET_KEY": "x"}, unit_settings=none) == LAPTOP


def test_the_command_ends_with_the_sentence_and_opens_no_database(tmp_path):
    environment = {name: value for name, value in os.environ.items() if name != "DJANGO_SETTINGS_MODULE"}

    done = subprocess.run(
        [sys.executable, "manage.py", "migrate"],
        cwd=settings.BASE_DIR,
        env=environment
        | {"DATABASE_URL": f"sqlite:///{tmp_path / 'school.sqlite3'}", "BANDROOM_VAR": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.returncode == 1
    assert done.stderr.startswith("This looks like a school's server (DATABASE_URL is set)")
    assert "DJANGO_SETTINGS_MODULE=bandroom.settings.production" in done.stderr
    assert list(tmp_path.iterdir()) == []
