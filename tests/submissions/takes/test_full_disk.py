"""The disk is full: a real one of a few megabytes, with nothing left on it."""

import errno
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.utils.timezone import now

from bandroom import room
from submissions.models import Hearing, Take
from submissions.takes.services import hearing, preparation
from submissions.takes.services.preparation import Ended
from submissions.takes.tasks import queue_hearing_of
from tests.disks import NoDisk, fill, small_disk
from tests.submissions.takes import sounds

pytestmark = pytest.mark.django_db
NO_ROOM = "The school's computer has no room left; your recording is kept here and will be sent later."


@pytest.fixture
def disk(tmp_path) -> Iterator[Path]:
    try:
        with small_disk(tmp_path / "disk", megabytes=4) as path:
            yield path
    except NoDisk as why:
        pytest.skip(f"no small disk: {why}")


@pytest.fixture
def content(tmp_path) -> bytes:
    return sounds.webm(tmp_path / "phone.webm", sounds.line()).read_bytes()


def test_a_piece_is_refused_with_a_sentence_and_goes_on_where_it_was(phone, assignment, disk, settings):
    content = b"sound" * 50_000
    settings.STORAGES = settings.STORAGES | {
        "takes": settings.STORAGES["takes"] | {"OPTIONS": {"location": str(disk)}}
    }
    declaration = phone.declaration(content)
    phone.declare(assignment, declaration)
    assert phone.patch(declaration["id"], 0, content[:100_000]).status_code == 204
    filler = fill(disk)

    answer = phone.patch(declaration["id"], 100_000, content[100_000:])

    assert (answer.status_code, answer.json()) == (507, {"says": NO_ROOM})
    assert phone.head(declaration["id"])["Upload-Offset"] == "100000"
    filler.unlink()
    assert phone.patch(declaration["id"], 100_000, content[100_000:]).status_code == 204
    assert phone.state(declaration["id"])["sha256"] == declaration["sha256"]


def test_preparing_waits_for_room_and_no_try_counts(phone, assignment, content, disk, settings):
    """Three tries on a full disk refused a good take for good."""
    take = phone.send(assignment, content)
    settings.WORK_DIR = disk
    filler = fill(disk)

    for _ in range(4):
        assert preparation.prepare(take_pk=take.pk, clock=now, queue=queue_hearing_of).ended == Ended.AGAIN
    take.refresh_from_db()
    assert (take.state, take.tries, take.reason) == (Take.State.RECEIVED, 0, "")

    filler.unlink()
    assert preparation.prepare(take_pk=take.pk, clock=now, queue=queue_hearing_of).ended == Ended.READY


def test_the_copy_that_outgrows_the_disk_is_the_disks_fault(phone, assignment, tmp_path, disk, settings):
    """Some room, and not enough: the engine itself fails in the middle of writing."""
    long = sounds.wav(tmp_path / "long.wav", sounds.line(seconds=60)).read_bytes()
    take = phone.send(assignment, long)
    settings.WORK_DIR = disk
    filler = fill(disk)
    with filler.open("r+b") as file:
        file.truncate(filler.stat().st_size - 64 * 1024)

    assert preparation.prepare(take_pk=take.pk, clock=now, queue=queue_hearing_of).ended == Ended.AGAIN

    take.refresh_from_db()
    assert (take.state, take.tries) == (Take.State.RECEIVED, 0)


def test_listening_waits_for_room_as_well(phone, assignment, content, disk, settings):
    take = phone.send(assignment, content)
    preparation.prepare(take_pk=take.pk, clock=now, queue=queue_hearing_of)
    settings.WORK_DIR = disk
    fill(disk)

    row = Hearing.objects.get()
    assert hearing.hear(hearing_pk=row.pk, clock=now).ended == Ended.AGAIN

    row.refresh_from_db()
    assert (row.state, row.tries) == (Hearing.State.QUEUED, 0)


def test_a_piece_is_refused_before_the_database_has_no_room(phone, assignment, disk, settings, monkeypatch):
    declaration = phone.declaration(b"sound")
    phone.declare(assignment, declaration)
    settings.DISK_RESERVE_MB = 64
    monkeypatch.setattr(room, "folder", lambda: disk)
    filler = fill(disk)

    answer = phone.patch(declaration["id"], 0, b"sound")

    assert (answer.status_code, answer.json()) == (507, {"says": NO_ROOM})
    filler.unlink()
    assert phone.patch(declaration["id"], 0, b"sound").status_code == 204


def test_the_disk_is_really_full(disk):
    fill(disk)

    with pytest.raises(OSError, match="No space left") as full:
        (disk / "one").write_bytes(b"1")
    assert full.value.errno == errno.ENOSPC
