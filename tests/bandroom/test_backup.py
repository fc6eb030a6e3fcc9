"""`manage.py backup`, `verify_backup` and `restore`: what is copied, what is noticed, what comes back."""

import hashlib
import json
import shutil
import stat
import subprocess
import sys
from collections.abc import Callable
from io import StringIO
from pathlib import Path
from uuid import uuid4

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.core.management import CommandError, call_command
from django.db import connection
from django.urls import reverse

from bandroom.people.models import Band, Erasure, Membership, User
from bandroom.people.services import erasures
from bandroom.people.services.erasures import keys_in, write_notes
from bandroom.people.services.families import erase_student
from submissions.models import Assignment, Take
from tests import factories
from tests.conftest import NOW
from tests.submissions.takes.processes import environment

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgresql]

BEFORE_RESTORE = settings.VAR_DIR / "before-restore"

type TakeMaker = Callable[..., Take]


@pytest.fixture(autouse=True)
def empty_storages() -> None:
    for folder in (*(storages[name].location for name in ("takes", "erasures")), BEFORE_RESTORE):
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def assignment(section) -> Assignment:
    return factories.make_assignment(band=section.band, sections=[section])


@pytest.fixture
def make_take(assignment, seat) -> TakeMaker:
    """A take whose whole file is here: received, and made playable where `served` is given."""

    def make(content: bytes = b"as it came", served: bytes = b"", **fields: object) -> Take:
        names = {"original": f"ab/{uuid4().hex}", "served": f"cd/{uuid4().hex}" if served else ""}
        for name, sound in zip(names.values(), (content, served), strict=True):
            if sound:
                storages["takes"].save(name, ContentFile(sound))
        return Take.objects.create(
            **{
                "assignment": assignment,
                "seat": seat,
                "lines": ["A"],
                "state": Take.State.READY if served else Take.State.RECEIVED,
                "declared_at": NOW,
                "declared_bytes": len(content),
                "declared_sha256": hashlib.sha256(content).hexdigest(),
                "received_bytes": len(content),
                "received_at": NOW,
                "served_bytes": len(served),
            }
            | names
            | fields
        )

    return make


@pytest.fixture
def folder(tmp_path) -> Path:
    return tmp_path / "backup"


def run(command: str, folder: Path, **options: object) -> str:
    out = StringIO()
    call_command(command, folder, stdout=out, **options)
    return out.getvalue()


def sound(name: str) -> bytes:
    with storages["takes"].open(name, "rb") as file:
        return file.read()


def test_a_backup_is_whole_and_nobody_else_may_read_it(make_take, folder):
    take = make_take(b"as it came", served=b"playable")

    said = run("backup", folder)

    assert "the database and 2 recordings" in said
    assert run("verify_backup", folder).startswith("The backup of ")
    assert (folder / "takes" / take.original).read_bytes() == b"as it came"
    for path in folder.rglob("*"):
        readable_by_others = path.stat().st_mode & (stat.S_IRWXG | stat.S_IRWXO)
        assert path.is_dir() or path.name == "manifest.json" or not readable_by_others
    assert folder.stat().st_mode & 0o777 == 0o700


def test_restoring_brings_rows_and_sounds_back(make_take, folder, director):
    first, second = make_take(b"first", served=b"first, playable"), make_take(b"second")
    run("backup", folder)
    before = sorted(Take.objects.values_list("pk", "state", "original", "served"))

    first.delete()
    second.delete()
    Band.objects.update(name="Renamed since")
    later = make_take(b"after the backup")
    said = run("restore", folder, replace=True)

    assert sorted(Take.objects.values_list("pk", "state", "original", "served")) == before
    assert [sound(name) for name in (first.original, first.served, second.original)] == [
        b"first",
        b"first, playable",
        b"second",
    ]
    assert Band.objects.get().name == "Harrow Bend Band"
    assert "3 recordings are back" in said
    (kept,) = BEFORE_RESTORE.glob("*/database.*")
    assert f"The database as it was is kept in {kept.parent}" in said
    assert kept.stat().st_size > 1000
    assert "1 file(s) in the storage are of no student in this backup" in said
    assert sound(later.original) == b"after the backup"


def test_restoring_over_a_band_must_be_asked_for_and_changes_nothing_before(make_take, folder):
    make_take()
    run("backup", folder)
    Band.objects.update(name="Renamed since")

    with pytest.raises(CommandError, match=r"There is a band in this database.*--replace"):
        run("restore", folder)

    assert Band.objects.get().name == "Renamed since"


def test_a_file_that_is_there_as_it_should_be_is_left_and_another_is_replaced(make_take, folder):
    good, spoilt = make_take(b"good"), make_take(b"fine once")
    run("backup", folder)
    Path(storages["takes"].path(spoilt.original)).write_bytes(b"fine ones")

    assert "1 recordings are back" in run("restore", folder, replace=True)
    assert (sound(good.original), sound(spoilt.original)) == (b"good", b"fine once")


def test_everybody_signs_in_anew(sign_in, director, folder):
    client = sign_in(director.user)
    run("backup", folder)

    run("restore", folder, replace=True)

    assert not Session.objects.exists()
    assert client.get(reverse("people:band")).status_code == 302


def test_an_erased_student_stays_erased_under_yesterdays_backup(make_take, seat, folder):
    take = make_take(b"a child's sound")
    name, membership = seat.student.sign_in_name, seat.student.memberships.get()
    other = factories.make_seat(section=seat.section)
    run("backup", folder)
    erase_student(membership=membership, at=NOW)
    write_notes(at=NOW)

    said = run("restore", folder, replace=True)

    assert "1 student(s) erased since were erased again" in said
    assert not User.objects.filter(sign_in_name=name).exists()
    assert not Take.objects.exists()
    assert not storages["takes"].exists(take.original)
    assert User.objects.filter(pk=other.student_id).exists()
    assert Erasure.objects.get().key == membership.key


def test_an_erasure_that_was_not_noted_yet_is_noted_before_the_database_goes(seat, folder):
    membership = seat.student.memberships.get()
    run("backup", folder)
    erase_student(membership=membership, at=NOW)

    assert "1 student(s) erased since" in run("restore", folder, replace=True)
    assert list(keys_in(storages["erasures"])) == [membership.key]


def test_a_backup_carries_the_erasures_to_a_machine_that_has_none(seat, folder, tmp_path):
    older, newer = tmp_path / "older", tmp_path / "newer"
    membership = seat.student.memberships.get()
    run("backup", older)
    erase_student(membership=membership, at=NOW)
    write_notes(at=NOW)
    run("backup", newer)
    shutil.rmtree(storages["erasures"].location)
    Erasure.objects.all().delete()

    said = run("restore", older, replace=True, erasures=newer / "erasures")

    assert "1 student(s) erased since" in said
    assert not Membership.objects.filter(key=membership.key).exists()


def test_a_note_tells_nothing_about_who_it_was(sign_in, director, seat):
    membership = seat.student.memberships.get()
    name = seat.student.sign_in_name

    sign_in(director.user).post(reverse("people:student-erase", args=[membership.pk]), {"name_id": name})

    assert storages["erasures"].listdir("") == ([], [membership.key.hex])
    with storages["erasures"].open(membership.key.hex) as file:
        assert list(json.load(file)) == ["erased_at"]
    assert Erasure.objects.get().noted_at is not None


def test_a_storage_that_is_away_keeps_no_student_from_being_erased(sign_in, director, seat, monkeypatch):
    membership = seat.student.memberships.get()
    client = sign_in(director.user)
    storage = storages["erasures"]
    Path(storage.location).parent.mkdir(parents=True, exist_ok=True)
    Path(storage.location).write_text("a file where the folder should be")
    form = {"name_id": seat.student.sign_in_name}

    assert client.post(reverse("people:student-erase", args=[membership.pk]), form).status_code == 302

    assert Erasure.objects.get().noted_at is None
    Path(storage.location).unlink()
    assert erasures.write_notes(at=NOW) == 1
    assert list(keys_in(storage)) == [membership.key]


def test_a_sound_that_is_missing_or_not_what_was_declared_is_named(make_take, folder):
    gone, other, cut = make_take(b"gone"), make_take(b"as declared"), make_take(b"a", served=b"whole")
    storages["takes"].delete(gone.original)
    Path(storages["takes"].path(other.original)).write_bytes(b"not as declared")
    Path(storages["takes"].path(cut.served)).write_bytes(b"who")

    with pytest.raises(CommandError) as refused:
        run("backup", folder)

    assert str(refused.value).startswith("Everything else is copied, but 3 recording(s) are not whole:")
    for line in (
        f"{gone.original}: missing",
        f"{other.original}: not what was declared",
        f"{cut.served}: 3 bytes, expected 5",
    ):
        assert line in str(refused.value)
    with pytest.raises(CommandError, match=r"3 file\(s\) are not whole"):
        run("verify_backup", folder)


def test_a_name_on_record_before_its_file_is_no_fault(make_take, folder):
    take = make_take(state=Take.State.PREPARING)
    Take.objects.update(served="cd/not-stored-yet")
    storages["takes"].delete(make_take(state=Take.State.DECLARED).original)

    assert "the database and 1 recordings" in run("backup", folder)
    assert (folder / "takes" / take.original).exists()


def test_files_of_no_row_are_named_and_left_out(make_take, folder):
    make_take()
    storages["takes"].save("ee/nobody", ContentFile(b"?"))

    said = run("backup", folder)

    assert "1 file(s) in the storage belong to no recording and were left out:\n  ee/nobody" in said
    assert not (folder / "takes" / "ee").exists()


@pytest.mark.parametrize(
    ("harm", "why"),
    [
        (lambda path: path.write_bytes(b"?" * path.stat().st_size), "changed since it was copied"),
        (lambda path: path.unlink(), "missing"),
    ],
)
def test_a_backup_whose_sounds_were_harmed_is_restored_only_on_demand(make_take, folder, harm, why):
    good, harmed = make_take(b"good"), make_take(b"harmed")
    run("backup", folder)
    harm(folder / "takes" / harmed.original)
    for take in (good, harmed):
        storages["takes"].delete(take.original)

    with pytest.raises(CommandError, match=r"1 file\(s\) are not whole"):
        run("verify_backup", folder)
    with pytest.raises(CommandError, match="--damaged"):
        run("restore", folder, replace=True)
    assert not storages["takes"].exists(good.original)

    said = run("restore", folder, replace=True, damaged=True)
    assert f"left out: {harmed.original} ({why})" in said
    assert sound(good.original) == b"good"


def test_what_an_earlier_backup_holds_whole_is_not_copied_once_more(make_take, folder, tmp_path):
    kept, harmed, gone = make_take(b"kept"), make_take(b"harmed"), make_take(b"gone")
    earlier = tmp_path / "earlier"
    run("backup", earlier)
    (earlier / "takes" / harmed.original).write_bytes(b"Harmed")
    gone.delete()
    late = make_take(b"late")

    run("backup", folder, like=earlier)
    shutil.rmtree(earlier)

    assert run("verify_backup", folder)
    copies = {name: (folder / "takes" / name) for name in (kept.original, harmed.original, late.original)}
    assert [path.read_bytes() for path in copies.values()] == [b"kept", b"harmed", b"late"]
    assert not (folder / "takes" / gone.original).exists()


def test_a_disk_that_is_full_is_told_in_a_sentence_and_leaves_no_backup(make_take, folder):
    """A process that may write no file of a megabyte meets a full disk at its second recording."""
    make_take(b"small")
    make_take(b"0" * 3_000_000)
    limited = (
        "import resource, sys; resource.setrlimit(resource.RLIMIT_FSIZE, (2_000_000, 2_000_000));"
        "from django.core.management import execute_from_command_line as run; run(sys.argv)"
    )

    done = subprocess.run(
        [sys.executable, "-c", limited, "backup", folder],
        cwd=settings.BASE_DIR,
        env=environment(),
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.returncode == 1
    assert done.stderr == "CommandError: No backup was made. The disk says: File too large.\n"
    assert not (folder / "manifest.json").exists()


def test_a_backup_whose_database_was_harmed_is_never_restored(make_take, folder):
    make_take()
    run("backup", folder)
    (database,) = folder.glob("database.*")
    content = bytearray(database.read_bytes())
    content[len(content) // 2] ^= 255
    database.write_bytes(content)

    with pytest.raises(CommandError, match="The database of this backup is not whole"):
        run("restore", folder, replace=True, damaged=True)
    assert Take.objects.count() == 1


def test_a_backup_that_was_not_finished_is_none(make_take, folder):
    make_take()
    run("backup", folder)
    (folder / "manifest.json").unlink()

    for command in ("verify_backup", "restore"):
        with pytest.raises(CommandError, match=r"holds no manifest\.json: it is no backup"):
            run(command, folder)


def test_a_folder_with_something_in_it_is_not_written_to(folder):
    folder.mkdir()
    (folder / "thesis.txt").write_text("mine")

    with pytest.raises(CommandError, match="is not empty"):
        run("backup", folder)
    assert [path.name for path in folder.iterdir()] == ["thesis.txt"]


def test_a_backup_of_the_other_kind_of_database_is_refused(make_take, folder):
    run("backup", folder)
    told = json.loads((folder / "manifest.json").read_text())
    told["vendor"] = {"sqlite": "postgresql", "postgresql": "sqlite"}[connection.vendor]
    (folder / "manifest.json").write_text(json.dumps(told))

    with pytest.raises(CommandError, match="they must agree"):
        run("restore", folder)


@pytest.mark.skipif(connection.vendor != "postgresql", reason="types and functions of PostgreSQL")
def test_what_a_queue_keeps_in_the_database_beside_tables_comes_back_too(folder, band):
    def made() -> list[tuple[str, str]]:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 'open'::queue_state, queue_total()")
            return cursor.fetchall()

    statements = (
        "CREATE TYPE queue_state AS ENUM ('open', 'done')",
        "CREATE TABLE queue_jobs (id bigserial, state queue_state)",
        "CREATE VIEW queue_open AS SELECT * FROM queue_jobs WHERE state = 'open'",
        "CREATE FUNCTION queue_total() RETURNS bigint LANGUAGE sql AS 'SELECT count(*) FROM queue_open'",
    )
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
    try:
        run("backup", folder)
        with connection.cursor() as cursor:
            cursor.execute("CREATE TYPE queue_newer AS ENUM ('x')")

        run("restore", folder, replace=True)

        assert made() == [("open", 0)]
        with connection.cursor() as cursor:
            cursor.execute("SELECT to_regtype('queue_newer')")
            assert cursor.fetchone() == (None,)
    finally:
        with connection.cursor() as cursor:
            cursor.execute("DROP FUNCTION queue_total; DROP VIEW queue_open; DROP TABLE queue_jobs")
            cursor.execute("DROP TYPE queue_state")


@pytest.mark.skipif(connection.vendor != "postgresql", reason="tools of PostgreSQL")
def test_without_the_tools_of_postgresql_a_sentence_says_what_to_install(folder, monkeypatch):
    monkeypatch.setenv("PATH", "")

    with pytest.raises(CommandError, match=r"pg_dump is not installed: .*postgresql-client"):
        run("backup", folder)
