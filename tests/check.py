"""Everything `make test` checks, in order, each leg with its time; a failed leg does not hide the next."""

import os
import subprocess
import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from tests import machine, postgres

ROOT = Path(__file__).resolve().parent.parent
BIN = Path(sys.executable).parent
PYTEST = (sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider")
# Engines touch no database, so a second database has nothing to tell about them.
WITH_DATABASE = ("tests/people", "tests/exercises", "tests/submissions", "tests/bandroom")
PRODUCTION = {
    "DJANGO_SETTINGS_MODULE": "bandroom.settings.production",
    "SECRET_KEY": "a-key-that-is-long-enough-and-only-used-while-checking-0123456789",
    "ALLOWED_HOSTS": "band.school.example",
    "DATABASE_URL": "sqlite:///:memory:",
}


@dataclass(slots=True)
class Report:
    failed: list[str] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)

    def run(self, leg: str, *command: str, environment: Mapping[str, str] | None = None) -> None:
        print(f"\n== {leg}", flush=True)
        started = time.monotonic()
        result = subprocess.run(command, cwd=ROOT, env=os.environ | (environment or {}), check=False)
        outcome = "ok" if result.returncode == 0 else f"FAILED ({result.returncode})"
        print(f"== {leg}: {outcome}, {time.monotonic() - started:.0f} s", flush=True)
        if result.returncode != 0:
            self.failed.append(leg)

    def leave_out(self, leg: str, why: str) -> None:
        print(f"\n== {leg}: LEFT OUT, {why}", flush=True)
        self.left_out.append(f"{leg} ({why})")


def main() -> int:
    started = time.monotonic()
    report = Report()
    for need in machine.install_missing():
        print(
            f"Not on this machine: {need.name}, needed for {need.without}. On Debian: {' '.join(need.debian)}"
        )
    report.run("lint", str(BIN / "ruff"), "check", ".")
    report.run("format", str(BIN / "ruff"), "format", "--check", "--quiet", ".")
    report.run("types", str(BIN / "mypy"), "bandroom", "exercises", "submissions", "manage.py")
    report.run("layers", str(BIN / "lint-imports"), "--no-cache")
    manage = (sys.executable, "manage.py")
    test_settings = {"DJANGO_SETTINGS_MODULE": "bandroom.settings.test"}
    report.run(
        "migration drift", *manage, "makemigrations", "--check", "--dry-run", environment=test_settings
    )
    report.run(
        "deployment settings", *manage, "check", "--deploy", "--fail-level", "WARNING", environment=PRODUCTION
    )
    report.run("suite on SQLite", *PYTEST, "-n", "2", "-m", "not browser and not bench")
    if postgres.binaries():
        with postgres.cluster() as address:
            report.run(
                "suite on PostgreSQL",
                *PYTEST,
                "-n",
                "2",
                "-m",
                "not browser and not bench",
                *WITH_DATABASE,
                environment={"TEST_DATABASE_URL": address},
            )
    else:
        report.leave_out("suite on PostgreSQL", "its initdb and pg_ctl were not found")
    if machine.chromium():
        report.run("browser", *PYTEST, "-n", "2", "-m", "browser")
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
