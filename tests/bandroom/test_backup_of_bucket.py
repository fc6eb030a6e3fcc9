"""A school with its recordings in a bucket: the bucket is made, copied, and filled again."""

import hashlib
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings

from tests.bucket import Bucket, bucket, present

pytestmark = pytest.mark.skipif(not present(), reason="nanio is not installed")

SOUND = b"a take of a child that does not exist" * 1000
FILL = f"""
import django
django.setup()
from datetime import timedelta
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.utils.timezone import now
from bandroom.people.services.erasures import write_notes
from bandroom.people.services.families import erase_student
from submissions.models import Take
from tests import factories
section = factories.make_section(band=factories.make_band())
assignment = factories.make_assignment(band=section.band, sections=[section])
seat, other = (factories.make_seat(section=section) for _ in range(2))
storages["takes"].save("ab/first", ContentFile({SOUND!r}))
Take.objects.create(
    assignment=assignment, seat=seat, lines=["A"], state=Take.State.RECEIVED, declared_at=now(),
    received_at=now(), declared_bytes={len(SOUND)}, declared_sha256="{hashlib.sha256(SOUND).hexdigest()}",
    original="ab/first",
)
erase_student(membership=other.student.memberships.get(), at=now())
write_notes(at=now())
"""


@pytest.fixture
def objects() -> Iterator[Bucket]:
    with bucket() as running:
        yield running


@pytest.fixture
def school(objects, tmp_path) -> dict[str, str]:
    return (
        os.environ
        | objects.environment
        | {
            "S3_BUCKET": "recordings",
            "DJANGO_SETTINGS_MODULE": "bandroom.settings.production",
            "SECRET_KEY": "only-for-this-test-and-long-enough-0123456789-0123456789",
            "ALLOWED_HOSTS": "band.school.example",
            "DATABASE_URL": f"sqlite:///{tmp_path}/school.sqlite3",
            "BANDROOM_VAR": str(tmp_path / "var"),
        }
    )


def run(school: dict[str, str], *command: str | Path) -> str:
    done = subprocess.run(
        [sys.executable, *map(str, command)],
        cwd=settings.BASE_DIR,
        env=school,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def stored(objects: Bucket) -> dict[str, bytes]:
    base = objects.folder / "recordings"
    found = (path for path in base.rglob("*") if path.is_file())
    names = {str(path.relative_to(base)): path for path in found}
    return {name: path.read_bytes() for name, path in names.items() if not name.startswith(".")}


def test_a_bucket_is_made_once_copied_and_filled_again(objects, school, tmp_path):
    assert run(school, "manage.py", "make_bucket") == "Made the bucket recordings.\n"
    assert run(school, "manage.py", "make_bucket") == "The bucket recordings is there.\n"
    run(school, "manage.py", "migrate", "--verbosity", "0")
    run(school, "-c", FILL)
    before = stored(objects)
    assert before["ab/first"] == SOUND
    (note,) = (name for name in before if name.startswith("erasures/"))

    said = run(school, "manage.py", "backup", tmp_path / "backup")
    assert "the database and 1 recordings" in said
    assert "belong to no recording" not in said
    told = json.loads((tmp_path / "backup" / "manifest.json").read_text())
    assert [one["name"] for one in told["erasures"]] == [note.removeprefix("erasures/")]

    objects.stop()
    shutil.rmtree(objects.folder / "recordings")
    objects.start()
    run(school, "manage.py", "make_bucket")
    Path(tmp_path / "school.sqlite3").unlink()
    run(school, "manage.py", "restore", tmp_path / "backup")

    assert stored(objects) == before


def test_a_disk_has_no_bucket_to_make(school):
    on_disk = {name: value for name, value in school.items() if not name.startswith("S3_")}

    with pytest.raises(AssertionError, match="Recordings lie on a disk here"):
        run(on_disk, "manage.py", "make_bucket")
