"""A school with a database, a bucket and several machines, each of which can be killed at once."""

import contextlib
import os
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from django.conf import settings

from bandroom.settings.buckets import in_bucket
from tests import bucket as buckets
from tests.submissions.takes.processes import environment

PATIENCE_SECONDS = 90


@pytest.fixture(autouse=True)
def _several_machines() -> None:
    if settings.TASK_QUEUE != "procrastinate":
        pytest.skip("needs TASK_QUEUE=procrastinate, CACHE=database and a PostgreSQL in TEST_DATABASE_URL")


@pytest.fixture
def bucket(monkeypatch: pytest.MonkeyPatch, settings) -> Iterator[buckets.Bucket]:
    """An empty one, also for this process."""
    with buckets.bucket() as running:
        for name, value in running.environment.items():
            monkeypatch.setenv(name, value)
        settings.STORAGES = settings.STORAGES | {"takes": in_bucket(buckets.BUCKET)}
        yield running


@dataclass(slots=True)
class Machine:
    """A web server and a worker with a folder of their own."""

    name: str
    environment: dict[str, str]
    folder: Path
    port: int = field(default_factory=buckets.free_port)
    processes: list[subprocess.Popen[bytes]] = field(default_factory=list)

    @property
    def address(self) -> str:
        return f"http://localhost:{self.port}"

    def serve(self) -> None:
        self._start(
            "web",
            *("gunicorn", "bandroom.wsgi", "--workers", "1", "--threads", "4"),
            *("--bind", f"127.0.0.1:{self.port}"),
        )
        wait_for(self._answers)

    def work(self) -> int:
        """Its worker; returns the process id of the supervisor."""
        return self._start("worker", "django", "work", "--sweep-seconds", "0.5")

    def work_once(self) -> None:
        """Its worker does what waits, and ends."""
        self._start("once", "django", "work", "--once")
        assert self.processes.pop().wait(timeout=PATIENCE_SECONDS) == 0

    def kill(self) -> None:
        """kill -9 for everything that runs on it, in one moment."""
        everything = [pid for process in self.processes for pid in (process.pid, *descendants(process.pid))]
        for pid in everything:
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        for process in self.processes:
            process.wait()
        self.processes.clear()

    def said(self) -> str:
        return "".join(f"== {path.name} ==\n{path.read_text()}" for path in sorted(self.folder.glob("*.log")))

    def _start(self, log: str, *module: str) -> int:
        with (self.folder / f"{self.name}-{log}.log").open("ab") as file:
            process = subprocess.Popen(
                [sys.executable, "-m", *module],
                cwd=settings.BASE_DIR,
                env=self.environment,
                stdout=file,
                stderr=file,
            )
        self.processes.append(process)
        return process.pid

    def _answers(self) -> bool:
        try:
            urllib.request.urlopen(f"{self.address}/nowhere", timeout=5).close()  # noqa: S310 - our own
        except urllib.error.HTTPError as answer:
            answer.close()
        except OSError:
            return False
        return True


@pytest.fixture
def machine(bucket: buckets.Bucket, tmp_path: Path) -> Iterator[Callable[[str], Machine]]:
    """Makes a machine of the test's school; all of them are off when the test is over."""
    made: list[Machine] = []

    def make(name: str) -> Machine:
        folders = ("work", "takes", "erasures")
        own = {f"WORKER_{folder.upper()}": str(tmp_path / name / folder) for folder in folders}
        new = Machine(name=name, environment=environment() | own, folder=tmp_path)
        made.append(new)
        return new

    yield make
    for each in made:
        each.kill()
    if made:
        print(made[0].said())


def descendants(pid: int) -> list[int]:
    try:
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    except FileNotFoundError:
        return []
    return [below for child in children for below in (int(child), *descendants(int(child)))]


def wait_for[T](what: Callable[[], T], *, seconds: float = PATIENCE_SECONDS) -> T:
    """What `what` returns once it is true."""
    until = time.monotonic() + seconds
    while not (found := what()):
        assert time.monotonic() < until, "waited too long"
        time.sleep(0.05)
    return found
