"""The bucket does not answer: a real client of object storage, and a port where nobody listens."""

import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings as django_settings
from django.utils.timezone import now

from bandroom.settings.buckets import in_bucket
from submissions.models import Policy, Take
from submissions.takes import tasks
from submissions.takes.services import preparation, retention
from submissions.takes.services.preparation import Ended
from submissions.takes.tasks import queue_hearing_of
from submissions.upkeep import clock
from tests.submissions.takes.processes import environment

SOUND = b"sound" * 50
AWAY = "The school's computer cannot store recordings just now; yours is kept here and will be sent later."


@pytest.fixture
def nobody_listens() -> Iterator[str]:
    """An address whose port is taken, so that nobody else opens it, and where no connection is accepted."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        yield f"http://127.0.0.1:{taken.getsockname()[1]}"


@pytest.fixture
def lose_storage(settings, monkeypatch, nobody_listens) -> Callable[[], None]:
    """From now on recordings are in a bucket that does not answer."""
    for name, value in {
        "S3_BUCKET": "takes",
        "S3_ENDPOINT": nobody_listens,
        "S3_ACCESS_KEY": "nobody",
        "S3_SECRET_KEY": "nothing",
        "S3_REGION": "nowhere",
    }.items():
        monkeypatch.setenv(name, value)

    def lose() -> None:
        settings.STORAGES = settings.STORAGES | {"takes": in_bucket("takes")}

    return lose


@pytest.mark.django_db
def test_a_piece_is_answered_in_json_with_come_again_and_nothing_counts(
    phone, assignment, lose_storage, settings
):
    here = settings.STORAGES
    declaration = phone.declaration(SOUND)
    phone.declare(assignment, declaration)
    assert phone.patch(declaration["id"], 0, SOUND[:100]).status_code == 204
    lose_storage()

    answer = phone.patch(declaration["id"], 100, SOUND[100:])

    assert (answer.status_code, answer["Content-Type"]) == (503, "application/json")
    assert (answer.json(), answer["Retry-After"]) == ({"says": AWAY}, "5")
    assert phone.head(declaration["id"])["Upload-Offset"] == "100"
    assert phone.state(declaration["id"])["sha256"] is None

    settings.STORAGES = here
    assert phone.patch(declaration["id"], 100, SOUND[100:]).status_code == 204
    assert phone.state(declaration["id"])["sha256"] == declaration["sha256"]


@pytest.mark.django_db
def test_a_take_that_cannot_be_fetched_says_so_to_whoever_plays_it(phone, assignment, lose_storage):
    take = phone.send(assignment, SOUND)
    Take.objects.filter(pk=take.pk).update(
        state=Take.State.READY, served=take.original, served_type="audio/webm", served_bytes=len(SOUND)
    )
    lose_storage()

    answer = phone.client.get(f"/takes/{take.pk}/sound")

    assert (answer.status_code, answer.json()) == (503, {"says": AWAY})


@pytest.mark.django_db
def test_preparing_waits_and_no_try_counts(phone, assignment, lose_storage):
    take = phone.send(assignment, SOUND)
    lose_storage()

    outcome = preparation.prepare(take_pk=take.pk, clock=now, queue=queue_hearing_of)

    assert outcome.ended == Ended.AGAIN
    take.refresh_from_db()
    assert (take.state, take.tries) == (Take.State.RECEIVED, 0)


@pytest.mark.django_db
def test_what_cannot_be_deleted_keeps_its_row_for_the_next_round(phone, assignment, band, lose_storage):
    Policy.objects.create(band=band, keep_takes_days=1)
    take = phone.send(assignment, SOUND)
    lose_storage()
    at = now() + timedelta(days=9)
    clock.believe(at=at)

    told = retention.delete_old_takes(at=at)

    assert (told.deleted, told.waiting) == (0, 1)

    take.refresh_from_db()
    assert (take.state, bool(take.original)) == (Take.State.RECEIVED, True)


@pytest.mark.django_db
def test_one_take_that_cannot_be_put_together_stops_no_other(phone, assignment, settings):
    """A folder that may not be written to is a fault of one row, as a bucket that is away is one of all."""
    contents = [SOUND + bytes([number]) for number in range(4)]
    takes = []
    for content in contents:
        declaration = phone.declaration(content)
        phone.declare(assignment, declaration)
        phone.patch(declaration["id"], 0, content[:-1])
        phone.patch(declaration["id"], len(content) - 1, content[-1:])
        takes.append(Take.objects.get(pk=declaration["id"]))
    # As a machine leaves them that died over the last byte.
    Take.objects.update(state=Take.State.DECLARED, received_at=None, original="", lease_until=None)
    broken = takes[0]
    (Path(django_settings.STORAGES["takes"]["OPTIONS"]["location"]) / broken.pieces.first().name).unlink()
    folder = Path(django_settings.STORAGES["takes"]["OPTIONS"]["location"]) / broken.pieces.first().name
    folder.mkdir()  # where a file should be: read as any other fault of a disk

    assert tasks.finish_uploads(at=now() + timedelta(minutes=1)) == 3

    assert set(Take.objects.filter(received_at__isnull=False)) == set(takes[1:])
    broken.refresh_from_db()
    assert (broken.state, broken.received_bytes) == (Take.State.DECLARED, len(contents[0]))


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="reads process trees from /proc")
def test_the_worker_lives_on_and_does_its_other_chores(phone, assignment, band, lose_storage, tmp_path):
    """An old take that cannot be deleted ended the whole worker, and with it every other child's take."""
    Policy.objects.create(band=band, keep_takes_days=1)
    old = phone.send(assignment, SOUND)
    clock.believe(at=now())
    assignment.postings.update(
        opens_at=now() - timedelta(days=9),
        due_at=now() - timedelta(days=8),
        closes_at=now() - timedelta(days=7),
    )
    lose_storage()
    command = [sys.executable, "-m", "django", "work", "--interval", "0.1", "--sweep-seconds", "0.2"]
    log = tmp_path / "worker.log"
    with log.open("wb") as out:
        worker = subprocess.Popen(
            command, cwd=django_settings.BASE_DIR, env=environment(), stdout=out, stderr=out
        )
    try:
        until = time.monotonic() + 60
        while "waits to be deleted" not in log.read_text():
            assert (worker.poll(), time.monotonic() < until) == (None, True), log.read_text()
            time.sleep(0.1)
        # A row whose message was lost is found by another chore, after the failure.
        Take.objects.filter(pk=old.pk).update(
            state=Take.State.RECEIVED, lease_until=now() - timedelta(seconds=1)
        )
        while Take.objects.get(pk=old.pk).lease_until < now():
            assert (worker.poll(), time.monotonic() < until) == (None, True), log.read_text()
            time.sleep(0.1)
    finally:
        worker.terminate()
        assert worker.wait(timeout=60) == 0
