"""Everything `make test` checks, each leg with its time; a failed leg does not hide the next.

What reads the code alone works beside the first suite, so that no core of a small machine is idle.
"""

import os
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from tests import bucket, machine, postgres

ROOT = Path(__file__).resolve().parent.parent
BIN = Path(sys.executable).parent
PYTEST = (sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--durations=10")
# Of these, what is marked `postgresql` is run there too: locks, constraints, transactions, aggregation.
WITH_DATABASE = ("tests/people", "tests/exercises", "tests/submissions", "tests/bandroom", "tests/upgrading")
PRODUCTION = {
    "DJANGO_SETTINGS_MODULE": "bandroom.settings.production",
    "SECRET_KEY": "a-key-that-is-long-enough-and-only-used-while-checking-0123456789",
    "ALLOWED_HOSTS": "band.school.example",
    "DATABASE_URL": "sqlite:///:memory:",
}


SUITE = (*PYTEST, "-n", "2", "--ignore", "tests/browser", "--ignore", "tests/machines")
# A browser is waited for more than it works, so three share two cores; whoever is done takes from the others.
BROWSER = (*PYTEST, "-n", "3", "--dist", "worksteal", "tests/browser")


@dataclass(frozen=True, slots=True)
class Leg:
    name: str
    command: tuple[str, ...]
    environment: Mapping[str, str] = field(default_factory=dict)


@dataclass(slots=True)
class Report:
    failed: list[str] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)

    def run(self, leg: Leg, *, aside: bool = False) -> str:
        """What it said, if it is run `aside`; otherwise that is shown as it comes."""
        if not aside:
            print(f"\n== {leg.name}", flush=True)
        started = time.monotonic()
        result = subprocess.run(
            leg.command,
            cwd=ROOT,
            env=os.environ | leg.environment,
            check=False,
            stdout=subprocess.PIPE if aside else None,
            stderr=subprocess.STDOUT if aside else None,
            text=True,
        )
        outcome = "ok" if result.returncode == 0 else f"FAILED ({result.returncode})"
        ended = f"== {leg.name}: {outcome}, {time.monotonic() - started:.0f} s"
        if not aside:
            print(ended, flush=True)
        if result.returncode != 0:
            self.failed.append(leg.name)
        return f"\n== {leg.name}\n{result.stdout or ''}{ended}"

    @contextmanager
    def beside(self, legs: list[Leg]) -> Iterator[None]:
        """These, one after the other, beside the block; what they said is shown at its end."""
        with ThreadPoolExecutor(max_workers=1) as aside:
            said = aside.submit(lambda: [self.run(leg, aside=True) for leg in legs])
            yield
            print(*said.result(), sep="\n", flush=True)

    def leave_out(self, leg: str, why: str) -> None:
        print(f"\n== {leg}: LEFT OUT, {why}", flush=True)
        self.left_out.append(f"{leg} ({why})")


def reading() -> list[Leg]:
    """What reads the code and runs none of its tests."""
    manage = (sys.executable, "manage.py")
    test_settings = {
        "DJANGO_SETTINGS_MODULE": "bandroom.settings.test",
        "TEST_DATABASE_URL": "sqlite:///:memory:",
    }
    drift = (*manage, "makemigrations", "--check", "--dry-run")
    deployment = (*manage, "check", "--deploy", "--fail-level", "WARNING")
    return [
        Leg("lint", (str(BIN / "ruff"), "check", ".")),
        Leg("format", (str(BIN / "ruff"), "format", "--check", "--quiet", ".")),
        Leg("types", (str(BIN / "mypy"), "bandroom", "exercises", "submissions", "manage.py")),
        Leg("layers", (str(BIN / "lint-imports"), "--no-cache")),
        Leg("migration drift", drift, test_settings),
        Leg("deployment settings", deployment, PRODUCTION),
    ]


def main() -> int:
    started = time.monotonic()
    report = Report()
    for need in machine.install_missing():
        print(
            f"Not on this machine: {need.name}, needed for {need.without}. On Debian: {' '.join(need.debian)}"
        )
    with report.beside(reading()):
        report.run(Leg("suite on SQLite", (*SUITE, "-m", "not bench")))
    if postgres.binaries():
        with postgres.cluster() as address:
            on_postgres = {"TEST_DATABASE_URL": address}
            report.run(
                Leg(
                    "suite on PostgreSQL",
                    (*SUITE, "-m", "postgresql and not bench", *WITH_DATABASE),
                    on_postgres,
                )
            )
            if bucket.present():
                several = on_postgres | {"TASK_QUEUE": "procrastinate", "CACHE": "database"}
                report.run(Leg("several machines", (*PYTEST, "tests/machines"), several))
            else:
                report.leave_out("several machines", "nanio, an S3-compatible server, is not installed")
    else:
        for leg in ("suite on PostgreSQL", "several machines"):
            report.leave_out(leg, "PostgreSQL's initdb and pg_ctl were not found")
    if machine.chromium():
        report.run(Leg("browser", BROWSER))
    else:
        report.leave_out("browser", "no Chromium was found")

    print(f"\nAll of it took {time.monotonic() - started:.0f} s.")
    for line in report.left_out:
        print(f"Left out: {line}")
    for leg in report.failed:
        print(f"Failed: {leg}")
    return 1 if report.failed else 0


if __name__ == "__main__":
    sys.exit(main())
