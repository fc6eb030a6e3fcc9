"""The bytes of a take, by tus 1.0 (https://tus.io/protocols/resumable-upload), over a line that breaks."""

import base64
import hashlib
import os
import sqlite3
import subprocess
import uuid
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.core.files import File
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.db import OperationalError, connection
from django.test import Client
from django.utils.timezone import now
from django_tasks_db.models import DBTaskResult

from bandroom.management.commands import work
from bandroom.people.models import Membership, RecordingPermission
from submissions.models import Piece, Take
from submissions.takes import files, tasks
from submissions.takes.services import arrival
from tests import factories
from tests.submissions.takes.conftest import CHUNK, TUS

pytestmark = pytest.mark.django_db
SOUND = bytes(range(256)) * 40
HALF = len(SOUND) // 2
CHANGED = "The file changed on its way; it is being sent again from where it was whole."
LONG_AGO = datetime(2026, 1, 5, tzinfo=UTC)


@pytest.fixture
def take(phone, assignment) -> str:
    """Declared, nothing sent."""
    return phone.declare(assignment, phone.declaration(SOUND)).json()["id"]


def stored(take_pk: str) -> bytes:
    with storages["takes"].open(Take.objects.get(pk=take_pk).original, "rb") as file:
        return file.read()


def on_its_way(take_pk: str) -> bytes:
    """The pieces that count, in order."""
    return b"".join(part for piece in Piece.objects.filter(take=take_pk) for part in files.read(piece.name))


def files_of(take_pk: str) -> list[Path]:
    """Everything of one take on the disk of the takes storage."""
    folder = Path(storages["takes"].path(files.piece_name(uuid.UUID(take_pk), start=0))).parent
    return sorted(folder.iterdir()) if folder.exists() else []


def append(take_pk: str, piece: bytes = SOUND, *, offset: int = 0, at: datetime = LONG_AGO) -> int:
    """As a request does whose machine dies right after it."""
    return arrival.append(take_pk=uuid.UUID(take_pk), offset=offset, piece=piece, at=at)


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
    assert phone.head(take).headers["Cache-Control"] == "no-store, private"
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
    folder, own_folder, name = row.original.split("/")
    assert (len(own_folder), len(name)) == (32, len("whole-") + 32)
    assert own_folder.startswith(folder)
    assert take.replace("-", "") not in row.original
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
    assert on_its_way(take) == SOUND[:HALF]


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
    assert response.json() == {"says": CHANGED}
    assert phone.state(take)["sha256"] is None
    assert phone.patch(take, 0, SOUND).status_code == 204
    assert phone.state(take)["sha256"] == hashlib.sha256(SOUND).hexdigest()


def test_a_piece_stored_but_never_counted_goes_with_the_rest(phone, take):
    """The server died between the storage and the database."""
    phone.patch(take, 0, SOUND[:HALF])
    files.save(files.piece_name(uuid.UUID(take), start=HALF), ContentFile(b"never counted"))

    assert phone.patch(take, HALF, SOUND[HALF:]).status_code == 204
    assert stored(take) == SOUND
    assert len(files_of(take)) == 4

    tasks.finish_uploads(at=now())
    assert [path.read_bytes() for path in files_of(take)] == [SOUND]
    assert not Piece.objects.exists()


@pytest.mark.parametrize("damage", ["gone", "cut short"])
def test_a_storage_that_lost_bytes_is_found_out(phone, take, damage):
    """Restored from an older backup, or the power failed: the phone goes on from what is whole."""
    third = len(SOUND) // 3
    for offset in (0, third):
        phone.patch(take, offset, SOUND[offset : offset + third])
    path = Path(storages["takes"].path(Piece.objects.get(take=take, start=third).name))
    path.unlink() if damage == "gone" else path.write_bytes(SOUND[third : third + 5])

    response = phone.patch(take, 2 * third, SOUND[2 * third :])

    assert (response.status_code, response.headers["Upload-Offset"]) == (409, str(third))
    assert phone.head(take).headers["Upload-Offset"] == str(third)
    assert phone.state(take)["sha256"] is None
    assert phone.patch(take, third, SOUND[third:]).status_code == 204
    assert phone.state(take)["sha256"] == hashlib.sha256(SOUND).hexdigest()
    assert stored(take) == SOUND


def test_a_server_that_stopped_after_the_last_byte_finishes_at_the_next_request(phone, take):
    append(take)
    assert phone.head(take).headers["Upload-Offset"] == str(len(SOUND))
    assert phone.state(take)["sha256"] is None

    assert phone.patch(take, len(SOUND), b"").status_code == 204

    assert phone.state(take)["sha256"] == hashlib.sha256(SOUND).hexdigest()


def test_a_server_that_stopped_after_the_last_byte_finishes_by_itself(phone, take):
    append(take)

    assert tasks.finish_uploads(at=now()) == 1

    assert phone.state(take)["sha256"] == hashlib.sha256(SOUND).hexdigest()
    assert stored(take) == SOUND


def test_a_take_that_just_came_is_left_to_the_request_that_brought_it(phone, take):
    at = now()
    append(take, at=at)

    assert tasks.finish_uploads(at=at + timedelta(seconds=3)) == 0
    assert tasks.finish_uploads(at=at + timedelta(seconds=5)) == 1


def test_whoever_is_left_gives_the_receipt_within_ten_seconds():
    """A machine died after the last byte, or while it put the take together; three are left to do it."""
    found_out_after = max(arrival.LEFT_ALONE_AFTER, arrival.CHECKING_FOR)

    assert found_out_after + timedelta(seconds=work.RECEIPT_SECONDS) < timedelta(seconds=7)


def test_a_server_that_stopped_while_storing_leaves_no_second_copy(phone, take):
    append(take)
    files.save(files.whole_name(uuid.UUID(take)), ContentFile(SOUND[:HALF]))
    Take.objects.filter(pk=take).update(lease_until=now() - timedelta(seconds=1))

    assert tasks.finish_uploads(at=now()) == 1

    assert [path.read_bytes() for path in files_of(take)] == [SOUND]
    assert stored(take) == SOUND


def test_a_file_that_is_being_checked_is_not_checked_twice(phone, take):
    append(take)
    Take.objects.filter(pk=take).update(lease_until=now() + timedelta(minutes=1))

    assert arrival.finish(take_pk=uuid.UUID(take), at=now(), queue=tasks.queue_preparing) is False
    assert tasks.finish_uploads(at=now()) == 0
    assert phone.state(take)["sha256"] is None


def test_of_two_machines_that_put_a_take_together_one_gives_the_receipt(phone, take, monkeypatch):
    """The first was taken for dead while its disk was slow."""
    append(take)
    save = files.save

    def slowly(name: str, content: "File[bytes]") -> None:
        monkeypatch.undo()
        Take.objects.filter(pk=take).update(lease_until=now() - timedelta(seconds=1))
        assert arrival.finish(take_pk=uuid.UUID(take), at=now(), queue=tasks.queue_preparing) is True
        save(name, content)

    monkeypatch.setattr(files, "save", slowly)
    assert arrival.finish(take_pk=uuid.UUID(take), at=now(), queue=tasks.queue_preparing) is True

    assert DBTaskResult.objects.count() == 1
    tasks.finish_uploads(at=now())
    assert [path.read_bytes() for path in files_of(take)] == [SOUND]
    assert stored(take) == SOUND


def test_who_puts_a_long_take_together_says_so_meanwhile(take, monkeypatch):
    """Nobody takes over from a machine that works, however long it takes."""
    append(take, SOUND[:HALF])
    append(take, SOUND[HALF:], offset=HALF)
    monkeypatch.setattr(arrival, "SAID_EVERY_SECONDS", 0.0)
    at, said, read = now(), [], files.read

    def slowly(name: str) -> Iterator[bytes]:
        said.append(Take.objects.get(pk=take).lease_until)
        yield from read(name)

    monkeypatch.setattr(files, "read", slowly)
    assert arrival.finish(take_pk=uuid.UUID(take), at=at, queue=tasks.queue_preparing) is True

    assert said[0] == at + arrival.CHECKING_FOR
    assert said[1] > said[0]


@pytest.fixture
def small_disk(tmp_path, settings):
    """A disk of 160 kB for recordings."""
    place = tmp_path / "small"
    place.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=160k", "tmpfs", place], check=False, capture_output=True
    )
    if mounted.returncode:
        pytest.skip("mounting a small disk needs root")
    settings.STORAGES = settings.STORAGES | {
        "takes": settings.STORAGES["takes"] | {"OPTIONS": {"location": place}}
    }
    yield place
    subprocess.run(["umount", place], check=True)


def test_a_full_disk_loses_nothing_and_goes_on_later(phone, assignment, small_disk, monkeypatch):
    monkeypatch.setattr(arrival, "PIECE_BYTES", 10_000)
    filler = small_disk / "filler"
    filler.write_bytes(b"x" * 120_000)
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
    assert on_its_way(take) == long[:offset]
    assert len(files_of(take)) == Piece.objects.count()

    filler.unlink()
    assert phone.patch(take, offset, long[offset:]).status_code == 204
    assert phone.state(take)["sha256"] == declaration["sha256"]
    assert stored(take) == long


def test_a_full_disk_at_the_last_step_keeps_every_byte(phone, take, small_disk):
    """Room for the pieces, none for the whole."""
    (small_disk / "filler").write_bytes(b"x" * 140_000)

    response = phone.patch(take, 0, SOUND)
    assert response.status_code == 507
    assert phone.head(take).headers["Upload-Offset"] == str(len(SOUND))
    assert phone.state(take)["sha256"] is None
    assert tasks.finish_uploads(at=now() + timedelta(minutes=1)) == 0
    assert on_its_way(take) == SOUND

    (small_disk / "filler").unlink()
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
