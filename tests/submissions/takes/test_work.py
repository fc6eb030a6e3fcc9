"""`manage.py work` for real: processes that are killed, databases that hang up, a stop in order."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from django.conf import settings
from django.core.files import File
from django.core.files.storage import storages
from django.db import connection
from django.utils.timezone import now
from django_tasks_db.models import DBTaskResult

from submissions.models import Hearing, Take
from submissions.takes import tasks
from submissions.takes.files import random_name
from tests.submissions.takes import sounds
from tests.submissions.takes.processes import environment

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="reads process trees from /proc"),
]
PATIENCE_SECONDS = 60


@pytest.fixture
def worker(tmp_path) -> Iterator[subprocess.Popen[bytes]]:
    """A running supervisor with one worker, on the test's own database and folders."""
    command = [sys.executable, "-m", "django", "work", "--interval", "0.1", "--sweep-seconds", "0.5"]
    with (tmp_path / "worker.log").open("wb") as log:
        process = subprocess.Popen(command, cwd=settings.BASE_DIR, env=environment(), stdout=log, stderr=log)
        yield process
        process.kill()
        process.wait()
    print((tmp_path / "worker.log").read_text())


def children(pid: int) -> list[int]:
    return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def wait_for[T](what: Callable[[], T]) -> T:
    """What `what` returns once it is true."""
    until = time.monotonic() + PATIENCE_SECONDS
    while not (found := what()):
        assert time.monotonic() < until, "waited too long"
        time.sleep(0.05)
    return found


def state_is(take: Take, state: str) -> Callable[[], bool]:
    return lambda: Take.objects.filter(pk=take.pk, state=state).exists()


@pytest.fixture
def received(assignment, seat, tmp_path) -> Callable[[float], Take]:
    """A take that waits for the worker, `seconds` long."""

    def make(seconds: float) -> Take:
        line = sounds.line(seconds=10)
        source = sounds.wav(tmp_path / f"{seconds}.wav", np.tile(line, max(1, round(seconds / 10))))
        name = random_name()
        with source.open("rb") as file:
            storages["takes"].save(name, File(file))
        take = Take.objects.create(
            assignment=assignment,
            seat=seat,
            lines=["A"],
            state=Take.State.RECEIVED,
            declared_at=now(),
            received_at=now(),
            declared_bytes=1,
            declared_sha256="0" * 64,
            original=name,
            lease_until=now() + timedelta(minutes=10),
        )
        tasks.queue_preparing(take)
        return take

    return make


def test_a_take_is_prepared_and_heard_and_the_worker_stops_in_order(worker, received):
    take = received(10)

    wait_for(state_is(take, Take.State.READY))
    hearing = wait_for(lambda: Hearing.objects.filter(finished_at__isnull=False).first())
    assert (hearing.take, list(hearing.evidence), hearing.state) == (take, ["A"], Hearing.State.DONE)

    (child,) = children(worker.pid)
    worker.send_signal(signal.SIGTERM)
    assert worker.wait(timeout=30) == 0
    assert not Path(f"/proc/{child}").exists()


def test_a_worker_killed_while_it_decodes_loses_nothing(worker, received):
    """kill -9 in mid-work: the message is lost for good, the lease brings the take back."""
    take = received(700)
    wait_for(state_is(take, Take.State.PREPARING))
    (first,) = children(worker.pid)
    wait_for(lambda: children(first))

    # Half a minute at most; test_leases sees it said again while work goes on.
    assert now() < Take.objects.get(pk=take.pk).lease_until < now() + timedelta(seconds=30)

    os.kill(first, signal.SIGKILL)

    wait_for(lambda: [pid for pid in children(worker.pid) if pid != first])
    take.refresh_from_db()
    assert take.state == Take.State.PREPARING
    assert DBTaskResult.objects.get().status == "RUNNING"
    # Time passes: the lease is over, and nothing more is waited for.
    Take.objects.filter(pk=take.pk).update(lease_until=now() - timedelta(seconds=1))

    wait_for(state_is(take, Take.State.READY))
    take.refresh_from_db()
    assert take.tries == 2
    assert take.seconds == pytest.approx(700, abs=0.1)


def test_a_worker_that_dies_is_started_again_and_work_goes_on(worker, received):
    (first,) = wait_for(lambda: children(worker.pid))

    for _ in range(2):
        (running,) = wait_for(lambda: children(worker.pid))
        os.kill(running, signal.SIGSEGV)
        wait_for(lambda gone=running: [pid for pid in children(worker.pid) if pid != gone])
    take = received(10)

    wait_for(state_is(take, Take.State.READY))
    assert first not in children(worker.pid)


@pytest.mark.skipif(connection.vendor != "postgresql", reason="connections that a server can end")
def test_a_database_that_hangs_up_ends_no_supervisor(worker, received):
    """As when the database is restarted: every connection is closed under the worker."""
    wait_for(state_is(received(10), Take.State.READY))
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
            "WHERE datname = current_database() AND pid <> pg_backend_pid()"
        )
    take = received(10)

    wait_for(state_is(take, Take.State.READY))
    assert worker.poll() is None


def test_a_supervisor_that_is_killed_takes_its_worker_along(worker):
    (child,) = wait_for(lambda: children(worker.pid))
    wait_for(lambda: "db_worker" in Path(f"/proc/{child}/cmdline").read_text())

    worker.kill()
    worker.wait()

    wait_for(lambda: not Path(f"/proc/{child}").exists())
