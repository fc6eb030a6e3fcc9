"""A school's whole year copied, read back and restored: 10,000 takes, each as it came and as it is played.

Told are the minutes of `manage.py backup`, `verify_backup` and `restore` into an empty storage, and megabytes
a second. Each file is of its own bytes. Run: python -m tests.bench.bench_backup
"""

import argparse
import os
import shutil
import sys
import tempfile
import time
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

from tests.bench.scratch import scratch_database

TAKES, KILOBYTES = 10_000, 200
ROWS_AT_ONCE = 500


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--takes", type=int, default=TAKES)
    options = parser.parse_args()
    with scratch_database():
        return measure(options.takes)


def measure(takes: int) -> int:
    from django.core.files.storage import storages  # noqa: PLC0415 only after django.setup()
    from django.db import connection  # noqa: PLC0415 as above

    from submissions.models import Take  # noqa: PLC0415 as above

    send(takes)
    megabytes = takes * 2 * KILOBYTES / 1e3
    print(f"{takes} takes of 2 x {KILOBYTES} kB, {megabytes:.0f} MB ({connection.vendor})")
    folder = Path(tempfile.mkdtemp(prefix="bandroom-backup-")) / "backup"
    try:
        timed("backup", folder, megabytes=megabytes)
        timed("verify_backup", folder, megabytes=megabytes)
        shutil.rmtree(storages["takes"].location)
        Take.objects.all().delete()
        timed("restore", folder, megabytes=megabytes, replace=True)
    finally:
        shutil.rmtree(folder.parent)
    whole = sum(storages["takes"].exists(name) for name in Take.objects.values_list("original", flat=True))
    print(f"  takes back     {whole} of {takes}")
    return 0 if whole == takes else 1


def timed(command: str, folder: Path, *, megabytes: float, **options: object) -> None:
    from django.core.management import call_command  # noqa: PLC0415 only after django.setup()

    began = time.perf_counter()
    with Path(os.devnull).open("w") as nowhere:
        call_command(command, folder, stdout=nowhere, **options)
    seconds = time.perf_counter() - began
    print(f"  {command:<14} {seconds / 60:5.2f} minutes, {megabytes / seconds:5.0f} MB/s")


def send(takes: int) -> None:
    """So many takes that are ready, a file for each copy."""
    from django.core.files.base import ContentFile  # noqa: PLC0415 only after django.setup()
    from django.core.files.storage import storages  # noqa: PLC0415 as above

    from submissions.models import Take  # noqa: PLC0415 as above
    from submissions.takes.files import random_name  # noqa: PLC0415 as above
    from tests import factories  # noqa: PLC0415 as above

    now = datetime.now(UTC)
    band = factories.make_band()
    section = factories.make_section(band=band)
    assignment = factories.make_assignment(band=band, sections=[section])
    seat = factories.make_seat(section=section)
    for first in range(0, takes, ROWS_AT_ONCE):
        rows = []
        for _ in range(min(ROWS_AT_ONCE, takes - first)):
            names = random_name(), random_name()
            contents = [os.urandom(KILOBYTES * 1000) for _ in names]
            for name, content in zip(names, contents, strict=True):
                storages["takes"].save(name, ContentFile(content))
            rows.append(
                Take(
                    assignment=assignment,
                    seat=seat,
                    lines=["A"],
                    state=Take.State.READY,
                    declared_at=now,
                    received_at=now,
                    declared_bytes=len(contents[0]),
                    declared_sha256=sha256(contents[0]).hexdigest(),
                    received_bytes=len(contents[0]),
                    original=names[0],
                    served=names[1],
                    served_bytes=len(contents[1]),
                )
            )
        Take.objects.bulk_create(rows)


if __name__ == "__main__":
    sys.exit(main())
