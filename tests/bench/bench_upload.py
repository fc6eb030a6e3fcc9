"""An evening at once: 320 takes of half a megabyte from 40 phones, a worker and a director at work.

Each phone announces a take, sends it in two pieces and asks for the receipt, eight times over. Meanwhile
the worker makes playable and hears what has come, and a director goes through last week's desk, opens one
student after the other and gives every mark. Told are the seconds of each take from the announcement to
the receipt, of each single request, and of each mark, and how many marks were refused: once with SQLite
and a disk, once with PostgreSQL, its queue and a bucket. Run: python -m tests.bench.bench_upload
"""

import logging
import os
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from http import HTTPStatus
from pathlib import Path
from urllib.parse import urlencode

from tests import bucket, postgres, serving
from tests.bench.scratch import scratch_database

PHONES, TAKES_EACH, PIECES = 40, 8, 2
TAKE_SECONDS = 31
SERVER = ("--workers", "2", "--threads", "4")
# Between two marks: a director who is quick on the keyboard.
MARK_EVERY_SECONDS = 0.25
GIVEN_UP_SECONDS = 60
HERE = "here"


def main() -> int:
    if sys.argv[1:] == [HERE]:
        with scratch_database():
            return measure()
    failed = run_here({})
    if postgres.binaries() and bucket.present():
        with postgres.cluster() as address, bucket.bucket() as takes:
            several = {"TEST_DATABASE_URL": address, "TASK_QUEUE": "procrastinate", "CACHE": "database"}
            failed += run_here(several | takes.environment)
    else:
        print("PostgreSQL and a bucket: left out, one of them is not on this machine")
    return 1 if failed else 0


def run_here(environment: dict[str, str]) -> int:
    """In a process of its own, since settings are read once."""
    command = [sys.executable, "-m", "tests.bench.bench_upload", HERE]
    return subprocess.run(command, env=os.environ | environment, check=False).returncode


@dataclass(slots=True)
class Told:
    """What was measured, in seconds."""

    takes: list[float] = field(default_factory=list)
    requests: list[float] = field(default_factory=list)
    marks: list[float] = field(default_factory=list)
    # One each, whether it was as it should be: lists, since threads fill them.
    receipts: list[bool] = field(default_factory=list)
    marks_taken: list[bool] = field(default_factory=list)
    desks_shown: list[bool] = field(default_factory=list)


def measure() -> int:
    from django.conf import settings  # noqa: PLC0415 only after django.setup()

    from submissions.models import Take  # noqa: PLC0415 as above
    from tests.signing_in import signed_in  # noqa: PLC0415 as above
    from tests.submissions.takes.line import connect  # noqa: PLC0415 as above

    logging.disable(logging.WARNING)
    content = half_a_megabyte()
    school = make_school()
    told, over = Told(), threading.Event()
    number = PHONES * TAKES_EACH
    with running_server() as address, running_worker():
        phones = [connect(address, seat, signed_in(seat.student)) for seat in school.seats]
        director = replace(phones[0], cookies=cookies_of(signed_in(school.director)))
        began = time.perf_counter()
        with ThreadPoolExecutor(PHONES + 1) as at_once:
            marking = at_once.submit(mark, director, school, told, over)
            evenings = [at_once.submit(evening, phone, school, content, told) for phone in phones]
            for ended in evenings:
                ended.result()
            seconds = time.perf_counter() - began
            over.set()
            marking.result()
        playable = Take.objects.filter(assignment=school.this_week, state=Take.State.READY).count()
    engine = settings.DATABASES["default"]["ENGINE"].rpartition(".")[2]
    where = "a bucket" if os.environ.get("S3_BUCKET") else "a disk"
    print(
        f"{PHONES} phones, {number} takes of {len(content) / 1e6:.2f} MB, a worker and a director at work "
        f"({engine}, {settings.TASK_QUEUE}, {where}, gunicorn {' '.join(SERVER)}, {os.cpu_count()} cores)"
    )
    print(f"  receipts           {sum(told.receipts)} of {number}")
    print(f"  all takes          {seconds:.1f} s, {number * len(content) / seconds / 1e6:.1f} MB/s")
    print(f"  a take to receipt  {spread(told.takes)}")
    print(f"  a request          {spread(told.requests)}")
    print(
        f"  marks              {len(told.marks)}, refused {told.marks_taken.count(False)}, "
        f"{spread(told.marks)}"
    )
    print(f"  made playable      {playable} meanwhile", flush=True)
    return 0 if sum(told.receipts) == number and all(told.marks_taken) and all(told.desks_shown) else 1


def evening(phone, school, content: bytes, told: Told) -> None:
    """What one phone sends."""
    for number in range(TAKES_EACH):
        # Other bytes for each take, so that nothing can be answered from what is here already.
        own = content + f"{phone.student} {number}".encode()
        began = time.perf_counter()
        take = timed(told.requests, phone.declare, school.this_week, own)
        step = -(-len(own) // PIECES)
        for offset in range(0, len(own), step):
            timed(told.requests, phone.patch, take, offset, own[offset : offset + step])
        while (receipt := timed(told.requests, phone.receipt, take)) is None:
            if time.perf_counter() - began > GIVEN_UP_SECONDS:
                break
            # As a phone does: an empty piece has the server look again.
            timed(told.requests, phone.patch, take, len(own), b"")
        told.takes.append(time.perf_counter() - began)
        told.receipts.append(receipt == sha256(own).hexdigest())


def mark(director, school, told: Told, over: threading.Event) -> None:
    """Student after student: their desk, then a level for each criterion of each line."""
    form = {"Content-Type": "application/x-www-form-urlencoded"}
    seen: dict[tuple[int, str, int], str] = {}
    while not over.is_set():
        for turn_in in school.waiting:
            desk = f"/assignments/{turn_in.assignment_id}/desk/{turn_in.seat_id}/"
            told.desks_shown.append(director.ask("GET", desk)[0] == HTTPStatus.OK)
            for line in school.lines:
                for criterion, levels in school.steps.items():
                    if over.wait(MARK_EVERY_SECONDS):
                        return
                    place = (turn_in.pk, line, criterion)
                    level = str(levels[len(told.marks) % len(levels)])
                    posted = {"attempt": turn_in.attempt, "line": line, "criterion": criterion}
                    posted |= {"level": level, "seen": seen.get(place, "")}
                    body = urlencode(posted).encode()
                    status = timed(told.marks, director.ask, "POST", f"{desk}mark/", body, **form)[0]
                    told.marks_taken.append(status == HTTPStatus.OK)
                    seen[place] = level


@dataclass(frozen=True, slots=True)
class School:
    director: object
    seats: list
    this_week: object
    waiting: list
    lines: list[str]
    # The levels of each criterion, by their keys.
    steps: dict[int, list[int]]


def make_school() -> School:
    from bandroom.people.models import Role  # noqa: PLC0415 only after django.setup()
    from tests import factories  # noqa: PLC0415 as above
    from tests.submissions.grading.conftest import steps, turn_in_both  # noqa: PLC0415 as above

    band = factories.make_band()
    section = factories.make_section(band=band)
    director = factories.make_staff(band=band, role=Role.DIRECTOR).user
    seats = [factories.make_seat(section=section) for _ in range(PHONES)]
    now, day = datetime.now(UTC), timedelta(days=1)
    last_week, this_week = (
        factories.make_assignment(
            band=band, sections=[section], opens_at=due - 3 * day, due_at=due, closes_at=due + day
        )
        for due in (now - 6 * day, now + day)
    )
    posting = last_week.postings.get()
    waiting = [turn_in_both(seat=seat, posting=posting, at=now - 7 * day) for seat in seats]
    return School(
        director=director,
        seats=seats,
        this_week=this_week,
        waiting=waiting,
        lines=list(last_week.lines),
        steps={
            criterion.pk: [level.pk for level in levels] for criterion, levels in steps(last_week).items()
        },
    )


def half_a_megabyte() -> bytes:
    from tests.submissions.takes import sounds  # noqa: PLC0415 only after django.setup()

    with tempfile.TemporaryDirectory() as folder:
        return sounds.webm(Path(folder) / "take", sounds.line(seconds=TAKE_SECONDS)).read_bytes()


def timed[T](into: list[float], work: Callable[..., T], *arguments: object, **named: str) -> T:
    began = time.perf_counter()
    answer = work(*arguments, **named)
    into.append(time.perf_counter() - began)
    return answer


def spread(values: list[float]) -> str:
    quantiles = statistics.quantiles(values, n=20)
    return f"p50 {statistics.median(values):.2f} s, p95 {quantiles[-1]:.2f} s, longest {max(values):.2f} s"


def cookies_of(client) -> str:
    from tests.submissions.takes.line import TOKEN  # noqa: PLC0415 only after django.setup()

    return f"sessionid={client.cookies['sessionid'].value}; csrftoken={TOKEN}"


@contextmanager
def running_server() -> Iterator[str]:
    """gunicorn, as a school runs it, on the measurement's own database and folders."""
    from tests.submissions.takes.processes import environment  # noqa: PLC0415 only after django.setup()

    with serving.running_server(*SERVER, environment=environment()) as address:
        yield address


@contextmanager
def running_worker() -> Iterator[None]:
    with running("django", "work"):
        yield


@contextmanager
def running(*module: str) -> Iterator[None]:
    from tests.submissions.takes.processes import environment  # noqa: PLC0415 only after django.setup()

    process = subprocess.Popen(
        [sys.executable, "-m", *module],
        env=environment(),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        yield
    finally:
        process.terminate()
        process.wait()


if __name__ == "__main__":
    sys.exit(main())
