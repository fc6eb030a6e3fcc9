"""A school that began with the first version goes on with this one: nothing of its work is lost or changed.

`first_version.json` is what the demo school's tables held when each app had `0001_initial` alone, a few
students of it, with at least one row of everything. All of it is invented.
"""

import json
import subprocess
import sys
from collections.abc import Iterator

import pytest
from django.conf import settings
from django.db import connection

from tests.submissions.takes.processes import environment
from tests.upgrading.__main__ import KEPT

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgresql]

#: A hearing was of one line and is of a whole take.
HEARINGS = "submissions_hearing"
#: What an upload had sent lay on one machine; its phone starts again.
TAKES, UPLOAD = "submissions_take", {"received_bytes", "original", "lease_until"}

type Tables = dict[str, dict[str, dict[str, object]]]


@pytest.fixture
def tables(tmp_path) -> Iterator[tuple[Tables, Tables]]:
    """What each table held before and after."""
    database = json.loads(environment()["WORKER_DATABASE"])
    if connection.vendor == "sqlite":
        name = str(tmp_path / "school.sqlite3")
    else:
        name = "bandroom_upgraded"
        with connection.cursor() as cursor:
            cursor.execute(f"CREATE DATABASE {name}")
    try:
        done = subprocess.run(
            [sys.executable, "-m", "tests.upgrading"],
            cwd=settings.BASE_DIR,
            env=environment() | {"WORKER_DATABASE": json.dumps(database | {"NAME": name})},
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        told = json.loads(done.stdout)
        yield told["before"], told["after"]
    finally:
        if connection.vendor != "sqlite":
            with connection.cursor() as cursor:
                cursor.execute(f"DROP DATABASE IF EXISTS {name}")


def test_everything_the_first_version_kept_is_there_as_it_was(tables):
    before, after = tables
    kept = json.loads(KEPT.read_text(encoding="utf-8"))
    assert {table: len(rows) for table, rows in before.items()} == {
        table: len(content["rows"]) for table, content in kept.items()
    }
    assert all(before.values()), "a table without a row proves nothing"

    for table, rows in before.items():
        if table == HEARINGS:
            continue
        for pk, row in rows.items():
            changed = {name for name, value in row.items() if after[table][pk].get(name, "gone") != value}
            arriving = table == TAKES and row["state"] == "declared"
            assert changed <= (UPLOAD if arriving else set()), (table, pk, changed)
        assert len(after[table]) == len(rows)

    (arriving,) = (row for row in after[TAKES].values() if row["state"] == "declared")
    assert (arriving["received_bytes"], arriving["original"]) == (0, "")
    assert_what_was_heard_of_each_line_is_kept(before, after)


def assert_what_was_heard_of_each_line_is_kept(before: Tables, after: Tables) -> None:
    """In one hearing of its take."""

    def plain(value: object) -> object:
        return json.loads(value) if isinstance(value, str) else value

    heard: dict[object, dict[str, object]] = {}
    for row in before[HEARINGS].values():
        lines = heard.setdefault(row["take_id"], {})
        if plain(row["evidence"]) is not None:
            lines[row["line"]] = plain(row["evidence"])
    now = {row["take_id"]: plain(row["evidence"]) or {} for row in after[HEARINGS].values()}
    assert now == heard
    assert len(after[HEARINGS]) == len(heard) < len(before[HEARINGS])
    states = sorted(row["state"] for row in after[HEARINGS].values())
    assert states == ["done", "done", "queued"]
    (overruled,) = (plain(row["overruled"]) for row in before[HEARINGS].values() if plain(row["overruled"]))
    assert overruled in [ear for row in after[HEARINGS].values() for ear in plain(row["overruled"]).values()]
