"""The bytes of a take, by tus 1.0 (https://tus.io/protocols/resumable-upload), over a line that breaks."""

import base64
import errno
import hashlib
import os
import sqlite3
import subprocess
import uuid
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.db import OperationalError, connection
from django.test import Client
from django.utils.timezone import now
from django_tasks_db.models import DBTaskResult

from bandroom.people.models import Membership, RecordingPermission
from submissions.models import Take
from submissions.takes import tasks
from submissions.takes.services import arrival
from tests import factories
from tests.submissions.takes.conftest import CHUNK, TUS

pytestmark = pytest.mark.django_db
SOUND = bytes(range(256)) * 40
HALF = len(SOUND) // 2


@pytest.fixture
def take(phone, assignment) -> str:
    """Declared, nothing sent."""
    return phone.declare(assignment, phone.declaration(SOUND)).json()["id"]


def stored(take_pk: str) -> bytes:
    with storages["takes"].open(Take.objects.get(pk=take_pk).original, "rb") as file:
        return file.read()


def half_way(take_pk: str) -> bytes:
    return (Path(settings.UPLOAD_DIR) / uuid.UUID(take_pk).hex).read_bytes()


# The protocol.


def test_what_the_server_can_do(phone, take):
    for address in ("/uploads/", f"/uploads/{take}/"):
        response = phone.client.options(address)
        assert response.status_code == 204
        assert response.headers["Tus-Resumable"] == "1.0.0"
        assert response.headers["Tus-Version"] == "1.0.0"
        assert response.headers["Tus-Extension"] == "creation,expiration"
        assert response.headers["Tus-Max-Size"] == str(settings.TAKE_MAX_BYTES)


def test_where_a_declared_take_goes(phone, take):
    metadata = f"filename {encoded('../../🎷' * 60)},take {encoded(take)},filetype {encoded('audio/webm')}"

    response = phone.client.post(
        "/uploads/", headers=TUS | {"Upload-Length": str(len(SOUND)), "Upload-Metadata": metadata}
    )

    assert response.status_code == 201
    assert response.headers["Location"] == f"/uploads/{take}/"
    assert "Upload-Expires" in response.headers


def encoded(text: str) -> str:
    return base64.b64encode(text.encode()).decode()


@pytest.mark.parametrize(
    ("metadata", "length", "status"),
    [
        ("", None, 404),
        ("take", None, 404),
        ("take !!!!", None, 404),
        (f"take {encoded('no-uuid')}", None, 404),
        (f"take {encoded(str(uuid.UUID(int=7)))}", None, 404),
        ("own", 7, 400),
        ("own", "seven", 400),
    ],
)
def test_no_upload_without_a_declared_take_of_that_length(phone, take, metadata, length, status):
    metadata = f"take {encoded(take)}" if metadata == "own" else metadata

    response = phone.client.post(
        "/uploads/",
        headers=TUS | {"Upload-Length": str(length or len(SOUND)), "Upload-Metadata": metadata},
    )

    assert response.status_code == status


def test_from_nothing_to_a_receipt(phone, take):
    assert phone.head(take).headers["Upload-Offset"] == "0"
    assert phone.head(take).headers["Upload-Length"] == str(len(SOUND))
    assert phone.head(take).headers["Cache-Control"] == "no-store"
    first = phone.patch(take, 0, SOUND[:HALF])
    assert (first.status_code, first.headers["Upload-Offset"]) == (204, str(HALF))
    assert "Upload-Expires" in first.headers
    assert phone.state(take)["sha256"] is None

    second = phone.patch(take, HALF, SOUND[HALF:])

    assert (second.status_code, second.headers["Upload-Offset"]) == (204, str(len(SOUND)))
    state = phone.state(take)
    assert (state["state"], state["sha256"]) == ("received", hashlib.sha256(SOUND).hexdigest())
    assert stored(take) == SOUND


def test_a_received_file_is_stored_under_a_random_name_and_waits_for_the_worker(phone, take):
    phone.patch(take, 0, SOUND)

    row = Take.objects.get()
    folder, name = row.original.split("/")
    assert len(name) == 32
    assert name.startswith(folder)
    assert take.replace("-", "") not in row.original
    assert os.listdir(settings.UPLOAD_DIR) == []
    waiting = DBTaskResult.objects.get()
    assert (waiting.task_path, waiting.args_kwargs["args"]) == (
        "submissions.takes.tasks.prepare_take",
        [take],
    )
    path = Path(storages["takes"].path(row.original))
    assert path.stat().st_mode & 0o007 == 0


def test_a_wrong_offset_is_told_where_to_go_on(phone, take):
    phone.patch(take, 0, SOUND[:HALF])

    for offset in (0, HALF - 1, HALF + 1):
        response = phone.patch(take, offset, SOUND[offset:])
        assert response.status_code == 409
        assert response.headers["Upload-Offset"] == str(HALF)
        assert response.json() == {
            "says": "These bytes are here already; go on where the school's computer stands."
        }
    assert half_way(take) == SOUND[:HALF]


def test_the_last_chunk_twice_is_harmless(phone, take):
    phone.patch(take, 0, SOUND[:HALF])
    phone.patch(take, HALF, SOUND[HALF:])

    again = phone.patch(take, HALF, SOUND[HALF:])

    assert (again.status_code, again.headers["Upload-Offset"]) == (409, str(len(SOUND)))
    assert phone.state(take)["sha256"] == hashlib.sha256(SOUND).hexdigest()
    assert stored(take) == SOUND
    assert DBTaskResult.objects.count() == 1


def test_an_answer_lost_after_the_last_byte_is_harmless(phone, take):
    phone.patch(take, 0, SOUND)

    assert phone.head(take).headers["Upload-Offset"] == str(len(SOUND))
    assert phone.patch(take, len(SOUND), b"").status_code == 409
    assert phone.state(take)["sha256"] == hashlib.sha256(SOUND).hexdigest()


def test_an_upload_without_the_version_header(phone, take):
    response = phone.client.patch(
        f"/uploads/{take}/", SOUND, content_type=CHUNK, headers={"Upload-Offset": "0"}
    )

    assert response.status_code == 412
    assert response.json() == {
        "says": "This program sends in another way than this server; load the page again."
    }


def test_bytes_of_another_type(phone, take):
    response = phone.client.patch(
        f"/uploads/{take}/", SOUND, content_type="audio/webm", headers=TUS | {"Upload-Offset": "0"}
    )

    assert response.status_code == 415
    assert response.json() == {"says": "This is not a piece of a recording; load the page again and go on."}


@pytest.mark.parametrize("offset", ["", "-1", "one", "1e3", "٣", "9" * 30])
def test_an_offset_that_is_no_number(phone, take, offset):
    response = phone.patch(take, 0, SOUND, **{"Upload-Offset": offset})

    assert response.status_code == 400
    assert response.json() == {"says": "The header “Upload-Offset” is missing or no whole number."}


def test_more_bytes_than_declared(phone, take):
    response = phone.patch(take, 0, SOUND + b"!")
    assert response.status_code == 413
    assert response.json() == {"says": "This is more than was announced; send the file again."}

    phone.patch(take, 0, SOUND[:HALF])
    response = phone.patch(take, HALF, SOUND[HALF:] + b"!")
    assert response.status_code == 409
    assert phone.head(take).headers["Upload-Offset"] == str(HALF)


def test_only_the_methods_of_the_protocol(phone, take):
    assert phone.client.get("/uploads/").status_code == 405
    for method in ("get", "post", "put", "delete"):
        assert getattr(phone.client, method)(f"/uploads/{take}/").status_code == 405


# Faults.


def test_a_file_that_changed_on_its_way_starts_over(phone, take):
    response = phone.patch(take, 0, b"?" + SOUND[1:])

    assert (response.status_code, response.headers["Upload-Offset"]) == (409, "0")
    assert response.json() == {"says": "The file changed on its way; it is being sent again from the start."}
    assert phone.state(take)["sha256"] is None
    assert phone.patch(take, 0, SOUND).status_code == 204
    assert phone.state(take)["sha256"] == hashlib.sha256(SOUND).hexdigest()


def test_bytes_written_but_never_counted_are_written_over(phone, take):
    """The server died between the disk and the database."""
    phone.patch(take, 0, SOUND[:HALF])
    with (Path(settings.UPLOAD_DIR) / uuid.UUID(take).hex).open("ab") as file:
        file.write(b"never counted")

    assert phone.patch(take, HALF, SOUND[HALF:]).status_code == 204
    assert stored(take) == SOUND


def test_a_disk_that_lost_bytes_is_found_out(phone, take):
    """Restored from a backup, or the folder of uploads was emptied: the phone goes on from what is there."""
    phone.patch(take, 0, SOUND[:HALF])
    path = Path(settings.UPLOAD_DIR) / uuid.UUID(take).hex
    path.write_bytes(SOUND[:100])
    assert phone.head(take).headers["Upload-Offset"] == "100"

    path.unlink()
    assert phone.head(take).headers["Upload-Offset"] == "0"


def test_a_server_that_stopped_after_the_last_byte_finishes_at_the_next_request(phone, take):
    arrival.append(take_pk=uuid.UUID(take), offset=0, piece=SOUND)
    assert phone.head(take).headers["Upload-Offset"] == str(len(SOUND))
    assert phone.state(take)["sha256"] is None

    assert phone.patch(take, len(SOUND), b"").status_code == 204

    assert phone.state(take)["sha256"] == hashlib.sha256(SOUND).hexdigest()


def test_a_server_that_stopped_after_the_last_byte_finishes_by_itself(phone, take):
    arrival.append(take_pk=uuid.UUID(take), offset=0, piece=SOUND)

    assert tasks.sweep(at=now()) == 1

    assert phone.state(take)["sha256"] == hashlib.sha256(SOUND).hexdigest()
    assert stored(take) == SOUND


def test_a_server_that_stopped_while_storing_leaves_no_second_copy(phone, take):
    arrival.append(take_pk=uuid.UUID(take), offset=0, piece=SOUND)
    storages["takes"].save("ab/half-written", ContentFile(SOUND[:HALF]))
    Take.objects.filter(pk=take).update(original="ab/half-written", lease_until=now() - timedelta(seconds=1))

    tasks.sweep(at=now())

    assert not storages["takes"].exists("ab/half-written")
    assert stored(take) == SOUND


def test_a_file_that_is_being_checked_is_not_checked_twice(phone, take):
    arrival.append(take_pk=uuid.UUID(take), offset=0, piece=SOUND)
    Take.objects.filter(pk=take).update(lease_until=now() + timedelta(minutes=1))

    assert arrival.finish(take_pk=uuid.UUID(take), at=now(), queue=tasks.queue_preparing) is False
    assert phone.state(take)["sha256"] is None


@pytest.fixture
def small_disk(tmp_path, settings):
    """A disk of 64 kB for uploads that are still arriving."""
    place = tmp_path / "small"
    place.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", place], check=False, capture_output=True
    )
    if mounted.returncode:
        pytest.skip("mounting a small disk needs root")
    settings.UPLOAD_DIR = place
    yield place
    subprocess.run(["umount", place], check=True)


def test_a_full_disk_loses_nothing_and_goes_on_later(phone, assignment, small_disk, monkeypatch):
    monkeypatch.setattr(arrival, "PIECE_BYTES", 10_000)
    filler = small_disk / "filler"
    filler.write_bytes(b"x" * 30_000)
    long = os.urandom(50_000)
    declaration = phone.declaration(long)
    take = phone.declare(assignment, declaration).json()["id"]

    response = phone.patch(take, 0, long)

    assert response.status_code == 507
    assert response.json() == {
        "says": "The school's computer has no room left; your recording is kept here and will be sent later."
    }
    offset = int(phone.head(take).headers["Upload-Offset"])
    assert 0 < offset < len(long)
    assert half_way(take)[:offset] == long[:offset]

    filler.unlink()
    assert phone.patch(take, offset, long[offset:]).status_code == 204
    assert phone.state(take)["sha256"] == declaration["sha256"]
    assert stored(take) == long


def test_a_full_disk_at_the_last_step_keeps_every_byte(phone, take, monkeypatch):
    """Room for the upload, none for the storage it moves to."""

    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(type(storages["takes"]), "save", full)
        response = phone.patch(take, 0, SOUND)
    assert response.status_code == 507
    assert phone.head(take).headers["Upload-Offset"] == str(len(SOUND))
    assert phone.state(take)["sha256"] is None

    assert phone.patch(take, len(SOUND), b"").status_code == 204
    assert phone.state(take)["sha256"] == hashlib.sha256(SOUND).hexdigest()


def test_a_full_disk_of_the_database_is_said_plainly(phone, take, monkeypatch):
    def full(**_: object) -> None:
        raise OperationalError("database or disk is full")

    monkeypatch.setattr(arrival, "append", full)

    response = phone.patch(take, 0, SOUND)

    assert response.status_code == 507


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif("sqlite" not in settings.DATABASES["default"]["ENGINE"], reason="SQLite's own lock")
def test_a_locked_database_is_said_plainly_and_loses_nothing(phone, take):
    phone.patch(take, 0, SOUND[:HALF])
    other = sqlite3.connect(connection.settings_dict["NAME"], isolation_level=None)
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout=50")
    other.execute("BEGIN IMMEDIATE")
    try:
        response = phone.patch(take, HALF, SOUND[HALF:])
    finally:
        other.execute("ROLLBACK")
        other.close()

    assert response.status_code == 503
    assert response.headers["Retry-After"] == "5"
    assert response.json() == {
        "says": "The school's computer is busy; your recording is kept here and will be sent in a moment."
    }
    assert phone.patch(take, HALF, SOUND[HALF:]).status_code == 204
    assert stored(take) == SOUND
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout=20000")


# Who.


def test_strangers_find_no_upload(phone, take, section, director, sign_in):
    elsewhere = factories.make_seat(
        section=factories.make_section(band=factories.make_band(name="Elsewhere"))
    )
    for user in (factories.make_seat(section=section).student, director.user, elsewhere.student):
        client = sign_in(user)
        headers = TUS | {"Upload-Offset": "0"}
        assert client.head(f"/uploads/{take}/", headers=TUS).status_code == 404
        response = client.patch(f"/uploads/{take}/", SOUND, content_type=CHUNK, headers=headers)
        assert response.status_code == 404
    assert phone.head(take).headers["Upload-Offset"] == "0"


def test_an_expired_sign_in_is_told_and_nothing_is_lost(phone, take):
    phone.patch(take, 0, SOUND[:HALF])
    visitor = Client()
    headers = TUS | {"Upload-Offset": str(HALF), "X-Requested-With": "bandroom"}

    response = visitor.patch(f"/uploads/{take}/", SOUND[HALF:], content_type=CHUNK, headers=headers)
    assert response.status_code == 401
    assert visitor.head(f"/uploads/{take}/", headers=headers).status_code == 401

    assert phone.patch(take, HALF, SOUND[HALF:]).status_code == 204


def test_permission_withdrawn_during_an_upload(phone, take, seat):
    phone.patch(take, 0, SOUND[:HALF])
    Membership.objects.filter(user=seat.student).update(recording=RecordingPermission.REFUSED)

    response = phone.patch(take, HALF, SOUND[HALF:])

    assert response.status_code == 403
    assert response.json()["says"] == (
        "Your school has not agreed to recordings of you; book a check-in instead."
    )


def test_the_token_against_forged_requests_is_needed(take, seat):
    client = Client(enforce_csrf_checks=True)
    client.force_login(seat.student, backend="bandroom.people.signing_in.NameBackend")

    response = client.patch(
        f"/uploads/{take}/", SOUND, content_type=CHUNK, headers=TUS | {"Upload-Offset": "0"}
    )

    assert response.status_code == 403


def test_bytes_may_come_after_the_assignment_closed(phone, take, assignment):
    posting = assignment.postings.get()
    posting.due_at, posting.closes_at = now() - timedelta(hours=2), now() - timedelta(hours=1)
    posting.save()

    assert phone.patch(take, 0, SOUND).status_code == 204
    assert phone.state(take)["sha256"] == hashlib.sha256(SOUND).hexdigest()
