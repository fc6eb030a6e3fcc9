"""Faults a school will have, each tried for real: how many recordings were tried, and how many were lost.

A recording counts as lost when the phone let go of it and it cannot be played, or when it was deleted before
its time. Run: python -m tests.bench.bench_faults
"""

import logging
import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path
from typing import Any

from tests.bench.scratch import scratch_database

TRIED = 20
KILLED = 3
GIVEN_UP_SECONDS = 120
WEBKIT = Path(__file__).parents[1] / "preparing" / "data" / "webkit_take.mp4"


def main() -> int:
    with scratch_database():
        return measure()


def measure() -> int:
    logging.disable(logging.CRITICAL)
    school = School()
    rows: list[tuple[str, Callable[[School], tuple[int, int, str]]]] = [
        ("a file whose decode times run backwards (WebKit)", webkit),
        ("the bucket is away in mid-upload", bucket_away),
        ("the disk is full in mid-upload and while preparing", disk_full),
        ("the server died over the last byte", died_at_last_byte),
        ("kill -9 of the worker while it prepares", killed_while_preparing),
        ("the clock jumps forward by 200 days", clock_jumps),
    ]
    print(f"{'fault':52s} tried  lost")
    lost_at_all = 0
    for name, try_it in rows:
        tried, lost, more = try_it(school)
        lost_at_all += lost
        print(f"{name:52s} {tried or '-':>5}  {lost if tried else '-':>4}  {more}")
    return 1 if lost_at_all else 0


class School:
    """A band with one student whose phone sends takes."""

    def __init__(self) -> None:
        from tests import factories  # noqa: PLC0415 only after django.setup()
        from tests.signing_in import signed_in  # noqa: PLC0415 as above
        from tests.submissions.takes import sounds  # noqa: PLC0415 as above
        from tests.submissions.takes.conftest import Phone  # noqa: PLC0415 as above

        at = datetime.now(UTC)
        band = factories.make_band()
        section = factories.make_section(band=band)
        self.assignment = factories.make_assignment(
            band=band,
            sections=[section],
            opens_at=at - timedelta(days=1),
            due_at=at + timedelta(days=1),
            closes_at=at + timedelta(days=2),
        )
        seat = factories.make_seat(section=section)
        self.phone = Phone(client=signed_in(seat.student), student_pk=seat.student_id)
        with tempfile.TemporaryDirectory() as folder:
            self.sound = sounds.webm(Path(folder) / "take", sounds.line(seconds=5)).read_bytes()
            self.long = sounds.webm(Path(folder) / "long", sounds.line(seconds=240)).read_bytes()

    def half_sent(self, content: bytes) -> dict[str, Any]:
        declaration = self.phone.declaration(content)
        self.phone.declare(self.assignment, declaration)
        self.phone.patch(declaration["id"], 0, content[: len(content) // 2])
        return declaration

    def rest(self, declaration: dict[str, Any], content: bytes) -> int:
        half = len(content) // 2
        return int(self.phone.patch(declaration["id"], half, content[half:]).status_code)

    def own(self, number: int) -> bytes:
        """Other bytes for each take."""
        return self.sound + f"{number}".encode()

    def has(self, declaration: dict[str, Any], content: bytes) -> bool:
        return bool(self.phone.state(declaration["id"])["sha256"] == sha256(content).hexdigest())


def webkit(school: School) -> tuple[int, int, str]:
    takes = [school.phone.send(school.assignment, WEBKIT.read_bytes()) for _ in range(KILLED)]
    return KILLED, KILLED - sum(prepared(take.pk) for take in takes), ""


def bucket_away(school: School) -> tuple[int, int, str]:
    from django.conf import settings  # noqa: PLC0415 only after django.setup()
    from django.test import override_settings  # noqa: PLC0415 as above

    from bandroom.settings.buckets import in_bucket  # noqa: PLC0415 as above

    contents = [school.own(number) for number in range(TRIED)]
    sent = [school.half_sent(content) for content in contents]
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        os.environ |= {
            "S3_ENDPOINT": f"http://127.0.0.1:{taken.getsockname()[1]}",
            "S3_ACCESS_KEY": "nobody",
            "S3_SECRET_KEY": "nothing",
            "S3_REGION": "nowhere",
        }
        with override_settings(STORAGES=settings.STORAGES | {"takes": in_bucket("takes")}):
            told = [school.rest(*each) for each in zip(sent, contents, strict=True)]
    for each in zip(sent, contents, strict=True):
        school.rest(*each)
    whole = sum(school.has(*each) for each in zip(sent, contents, strict=True))
    return TRIED, TRIED - whole, f"answered 503: {told.count(503)}"


def disk_full(school: School) -> tuple[int, int, str]:
    from django.conf import settings  # noqa: PLC0415 only after django.setup()
    from django.test import override_settings  # noqa: PLC0415 as above

    from submissions.models import Take  # noqa: PLC0415 as above
    from tests.disks import NoDisk, fill, small_disk  # noqa: PLC0415 as above

    contents = [school.own(100 + number) for number in range(TRIED)]
    with tempfile.TemporaryDirectory() as folder:
        try:
            with small_disk(Path(folder) / "disk", megabytes=16) as disk:
                takes = settings.STORAGES["takes"] | {"OPTIONS": {"location": str(disk / "takes")}}
                stored = settings.STORAGES | {"takes": takes}
                with override_settings(STORAGES=stored, WORK_DIR=disk / "work"):
                    sent = [school.half_sent(content) for content in contents]
                    filler = fill(disk)
                    told = [school.rest(*each) for each in zip(sent, contents, strict=True)]
                    filler.unlink()
                    for each in zip(sent, contents, strict=True):
                        school.rest(*each)
                    filler = fill(disk)
                    for each in sent:
                        prepared(each["id"])
                    filler.unlink()
                    Take.objects.filter(state=Take.State.RECEIVED).update(lease_until=None)
                    whole = sum(prepared(each["id"]) for each in sent)
        except NoDisk as why:
            return 0, 0, f"not tried: {why}"
    return TRIED, TRIED - whole, f"answered 507: {told.count(507)}"


def died_at_last_byte(school: School) -> tuple[int, int, str]:
    from bandroom.management.commands.work import RECEIPT_SECONDS  # noqa: PLC0415 only after django.setup()
    from submissions.models import Take  # noqa: PLC0415 as above
    from submissions.takes.tasks import finish_uploads  # noqa: PLC0415 as above

    contents = [school.own(200 + number) for number in range(TRIED)]
    sent = [school.half_sent(content) for content in contents]
    for each in zip(sent, contents, strict=True):
        school.rest(*each)
    # As the row stands when the process ends between the last byte and the receipt.
    mine = Take.objects.filter(pk__in=[each["id"] for each in sent])
    mine.update(state=Take.State.DECLARED, received_at=None, original="", lease_until=None)
    began, waited = time.perf_counter(), 0.0
    while mine.filter(received_at=None).exists() and waited < GIVEN_UP_SECONDS:
        time.sleep(RECEIPT_SECONDS)  # as the worker does
        finish_uploads(at=datetime.now(UTC))
        waited = time.perf_counter() - began
    whole = sum(school.has(*each) for each in zip(sent, contents, strict=True))
    return TRIED, TRIED - whole, f"the last receipt after {waited:.0f} s"


def killed_while_preparing(school: School) -> tuple[int, int, str]:
    from submissions.models import Take  # noqa: PLC0415 only after django.setup()

    Take.objects.filter(state=Take.State.RECEIVED).update(lines=[], state=Take.State.READY)
    back = []
    for number in range(KILLED):
        with worker() as process:
            take = school.phone.send(school.assignment, school.long + f"{number}".encode())
            row = Take.objects.filter(pk=take.pk)
            if not until(lambda row=row: row.filter(state=Take.State.PREPARING).exists()):
                break
            child = int(Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()[0])
            os.kill(child, signal.SIGKILL)
            killed = time.perf_counter()
            if not until(lambda row=row: row.filter(state=Take.State.PREPARING, tries=2).exists()):
                break
            back.append(time.perf_counter() - killed)
            if not until(lambda row=row: row.filter(state=Take.State.READY).exists()):
                break
    slowest = f"taken up again after {max(back):.0f} s at most" if back else "never taken up again"
    return KILLED, KILLED - len(back), slowest


def clock_jumps(school: School) -> tuple[int, int, str]:
    from submissions.models import Take  # noqa: PLC0415 only after django.setup()
    from submissions.takes.services.retention import delete_old_takes  # noqa: PLC0415 as above
    from submissions.upkeep import clock  # noqa: PLC0415 as above

    tried = Take.objects.exclude(state=Take.State.DELETED).count()
    clock.look(at=datetime.now(UTC))
    for hours in range(48):
        delete_old_takes(at=datetime.now(UTC) + timedelta(days=200, hours=hours))
    return (
        tried,
        Take.objects.filter(state=Take.State.DELETED).count(),
        "two days of sweeps by the wrong date",
    )


def prepared(take_pk: Any) -> bool:
    from django.utils.timezone import now  # noqa: PLC0415 only after django.setup()

    from submissions.models import Take  # noqa: PLC0415 as above
    from submissions.takes.services import preparation  # noqa: PLC0415 as above

    preparation.prepare(take_pk=take_pk, clock=now, queue=lambda _take: None)
    return Take.objects.filter(pk=take_pk, state=Take.State.READY).exists()


def until(true: Callable[[], bool]) -> bool:
    """Whether it became true in time."""
    end = time.monotonic() + GIVEN_UP_SECONDS
    while not true():
        if time.monotonic() > end:
            return False
        time.sleep(0.02)
    return True


@contextmanager
def worker() -> Iterator[subprocess.Popen[bytes]]:
    from tests.submissions.takes.processes import environment  # noqa: PLC0415 only after django.setup()

    process = subprocess.Popen(
        [sys.executable, "manage.py", "work"],
        env=environment(),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        yield process
    finally:
        process.terminate()
        process.wait()


if __name__ == "__main__":
    sys.exit(main())
