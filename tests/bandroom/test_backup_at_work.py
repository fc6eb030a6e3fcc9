"""Backups while ninety takes come in and a worker prepares them: whatever had a receipt before is in them."""

import hashlib
import json
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.db import connection
from django.utils.timezone import now

from submissions.models import Assignment, Take
from submissions.takes.files import random_name
from tests import factories
from tests.serving import running_server
from tests.signing_in import signed_in
from tests.submissions.takes import sounds
from tests.submissions.takes.line import Line, connect
from tests.submissions.takes.processes import environment

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgresql]

PHONES, TAKES_EACH = 9, 10
TAKES_OF_LAST_YEAR = 1500
#: A backup begins once so many receipts were given.
BEGINS_AFTER = (20, 60)
SECONDS = 2
PATIENCE_SECONDS = 120

RESTORED = """
import django, hashlib, json
django.setup()
from django.core.files.storage import storages
from submissions.models import Take
print(json.dumps({
    str(take.pk): hashlib.sha256(storages["takes"].open(take.original).read()).hexdigest()
    for take in Take.objects.exclude(received_at=None)
}))
"""


@pytest.fixture
def phones(section) -> list[object]:
    return [factories.make_seat(section=section) for _ in range(PHONES)]


@pytest.fixture
def assignment(section) -> Assignment:
    return factories.make_assignment(
        band=section.band,
        sections=[section],
        opens_at=now() - timedelta(days=1),
        due_at=now() + timedelta(days=1),
        closes_at=now() + timedelta(days=2),
    )


@pytest.fixture
def last_year(assignment, seat) -> int:
    """Takes that are here already: copying them lasts, and new ones come in meanwhile."""
    content = b"a take of last year" * 1000
    rows = [
        Take(
            assignment=assignment,
            seat=seat,
            lines=["A"],
            state=Take.State.REFUSED,
            declared_at=now(),
            received_at=now(),
            declared_bytes=len(content),
            declared_sha256=hashlib.sha256(content).hexdigest(),
            original=random_name(),
        )
        for _ in range(TAKES_OF_LAST_YEAR)
    ]
    for row in rows:
        storages["takes"].save(row.original, ContentFile(content))
    return len(Take.objects.bulk_create(rows))


def send_all(phone: Line, *, assignment: Assignment, content: bytes, receipts: dict[str, str]) -> None:
    """Each take in two pieces; a receipt is written down as soon as the phone has it."""
    for number in range(TAKES_EACH):
        own = content + f"{phone.student} {number}".encode()
        take = phone.declare(assignment, own)
        half = len(own) // 2
        for offset, piece in ((0, own[:half]), (half, own[half:])):
            phone.patch(take, offset, piece)
        until = time.monotonic() + PATIENCE_SECONDS
        while (receipt := phone.receipt(take)) is None:
            assert time.monotonic() < until, "no receipt"
            time.sleep(0.05)
        assert receipt == hashlib.sha256(own).hexdigest()
        receipts[take] = receipt


def manage(*words: str | Path, **other: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "django", *map(str, words)],
        cwd=settings.BASE_DIR,
        env=environment() | other,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@contextmanager
def another_database(folder: Path) -> Iterator[dict[str, object]]:
    """An empty database beside the test's own."""
    found = json.loads(environment()["WORKER_DATABASE"])
    if connection.vendor == "sqlite":
        yield found | {"NAME": str(folder / "restored.sqlite3")}
        return
    name = "bandroom_restored"
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE DATABASE {name}")
    try:
        yield found | {"NAME": name}
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f"DROP DATABASE {name}")


def restored(backup: Path, folder: Path) -> dict[str, str]:
    """Restore on a machine that has nothing; the SHA-256 of each received take found there."""
    folder.mkdir()
    with another_database(folder) as database:
        elsewhere = {
            "WORKER_DATABASE": json.dumps(database),
            "WORKER_TAKES": str(folder / "takes"),
            "WORKER_ERASURES": str(folder / "erasures"),
        }
        manage("restore", backup, **elsewhere)
        told = subprocess.run(
            [sys.executable, "-c", RESTORED],
            cwd=settings.BASE_DIR,
            env=environment() | elsewhere,
            capture_output=True,
            text=True,
            check=True,
        )
    return json.loads(told.stdout)


def test_no_take_with_a_receipt_is_lost(phones, assignment, last_year, tmp_path):
    content = sounds.webm(tmp_path / "take", sounds.line(seconds=SECONDS)).read_bytes()
    receipts: dict[str, str] = {}
    before: list[dict[str, str]] = []
    worker = subprocess.Popen(
        [sys.executable, "-m", "django", "work", "--interval", "0.1"],
        cwd=settings.BASE_DIR,
        env=environment(),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        with (
            running_server("--workers", "2", "--threads", "4", environment=environment()) as address,
            ThreadPoolExecutor(PHONES) as at_once,
        ):
            lines = [connect(address, seat, signed_in(seat.student)) for seat in phones]
            sending = [
                at_once.submit(send_all, line, assignment=assignment, content=content, receipts=receipts)
                for line in lines
            ]
            for number, enough in enumerate(BEGINS_AFTER):
                while len(receipts) < enough and not all(one.done() for one in sending):
                    time.sleep(0.02)
                before.append(dict(receipts))
                manage("backup", tmp_path / f"backup-{number}")
            for one in sending:
                one.result()
    finally:
        worker.terminate()
        worker.wait()
    assert len(receipts) == PHONES * TAKES_EACH

    for number, known in enumerate(before):
        backup = tmp_path / f"backup-{number}"
        here = restored(backup, tmp_path / f"elsewhere-{number}")
        assert len(here) >= last_year + len(known)
        assert len(known) >= BEGINS_AFTER[number]
        assert {take: here.get(take) for take in known} == known
