"""Databases of the version before hold a hearing for each line: they become one, and nothing is lost."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.utils.timezone import now

from submissions.models import Assignment, Hearing
from submissions.takes.services.hearing import hearings_of
from tests.submissions.grading.conftest import make_take

pytestmark = pytest.mark.django_db(transaction=True)
BEFORE = [("submissions", "0001_initial")]
AFTER = [("submissions", "0004_one_hearing_per_take")]


@pytest.fixture
def migrate():
    """To a state of `submissions`; the tables are today's again when the test is over."""

    def to(state: list[tuple[str, str]]) -> Any:
        executor = MigrationExecutor(connection)
        executor.migrate(state)
        return MigrationExecutor(connection).loader.project_state(state).apps

    latest = [
        leaf for leaf in MigrationExecutor(connection).loader.graph.leaf_nodes() if leaf[0] == "submissions"
    ]
    yield to
    MigrationExecutor(connection).migrate(latest)


def note(verdict: str = "as_written") -> dict[str, Any]:
    return {"verdict": verdict, "leaning": verdict, "confidence": 0.9}


def test_the_hearings_of_two_lines_become_one_and_part_again(migrate, seat, assignment: Assignment):
    """Heard twice and overruled; heard by two versions; failed in one line; not heard yet in one line."""
    at = now()
    both = [make_take(seat=seat, assignment=assignment, lines=("A", "B"), at=at) for _ in range(3)]
    alone = make_take(seat=seat, assignment=assignment, lines=("B",), at=at)
    old = migrate(BEFORE).get_model("submissions", "Hearing").objects

    def hear(take: Any, line: str, version: str = "1", **fields: Any) -> None:
        values = {"state": "done", "evidence": {"notes": [note()]}, "queued_at": at, "finished_at": at}
        old.create(take_id=take.pk, line=line, engine_version=version, **(values | fields))

    hear(both[0], "A", overruled={"0": "not_heard"})
    hear(both[0], "B", evidence={"notes": [note(), note("unsure")]}, overruled={"1": "as_written"})
    hear(both[0], "A", "2", evidence={"notes": [note("other_pitch")]}, queued_at=at + timedelta(days=1))
    hear(both[0], "B", "2", evidence={"notes": []}, queued_at=at + timedelta(days=1))
    hear(both[1], "A", state="failed", evidence=None, reason="It took longer than 240 seconds.", tries=3)
    hear(both[1], "B")
    hear(both[2], "A", overruled={"0": "as_written"})
    hear(both[2], "B", state="running", evidence=None, finished_at=None, tries=1, lease_until=at)
    hear(alone, "B", overruled={"0": "other_pitch"})
    before = list(old.order_by("take", "engine_version", "line").values_list("take", "line", "overruled"))

    migrate(AFTER)

    assert Hearing.objects.count() == 5
    first, second = both[0].hearings.order_by("engine_version")
    assert first.evidence == {"A": {"notes": [note()]}, "B": {"notes": [note(), note("unsure")]}}
    assert first.overruled == {"A": {"0": "not_heard"}, "B": {"1": "as_written"}}
    assert (second.evidence, second.overruled) == (
        {"A": {"notes": [note("other_pitch")]}, "B": {"notes": []}}, {},
    )  # fmt: skip
    shown = hearings_of([*both, alone])
    assert {line: heard.hearing for line, heard in shown[both[0].pk].items()} == {"A": second, "B": second}
    assert {line: (heard.state, heard.reason) for line, heard in shown[both[1].pk].items()} == {
        "A": ("failed", "It took longer than 240 seconds."), "B": ("done", ""),
    }  # fmt: skip
    waiting = both[2].hearings.get()
    assert (waiting.state, waiting.tries, waiting.lease_until) == ("queued", 0, at)
    assert waiting.overruled == {"A": {"0": "as_written"}}
    assert shown[alone.pk]["B"].ear == {0: "other_pitch"}

    again = migrate(BEFORE).get_model("submissions", "Hearing").objects
    ordered = again.order_by("take", "engine_version", "line")
    assert list(ordered.values_list("take", "line", "overruled")) == before
    kept = again.get(take_id=both[0].pk, line="B", engine_version="1")
    assert kept.evidence == {"notes": [note(), note("unsure")]}
    migrate(AFTER)
    assert Hearing.objects.count() == 5
