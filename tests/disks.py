"""A disk of a few megabytes, so that a full one is a real one. Mounting needs root on Linux."""

import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


class NoDisk(Exception):
    """This machine lets us mount none; the message says why."""


@contextmanager
def small_disk(at: Path, *, megabytes: int) -> Iterator[Path]:
    at.mkdir(parents=True, exist_ok=True)
    try:
        mounted = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "bandroom-test", str(at)],
            capture_output=True,
            check=False,
        )
    except FileNotFoundError:
        raise NoDisk("there is no mount command") from None
    if mounted.returncode:
        raise NoDisk(mounted.stderr.decode(errors="replace").strip() or "mount was refused")
    try:
        yield at
    finally:
        subprocess.run(["umount", "--lazy", str(at)], check=True)


def fill(disk: Path) -> Path:
    """Write until nothing fits any more; deleting what is returned makes room again."""
    filler = disk / "filler"
    with filler.open("wb", buffering=0) as out:
        for size in (1024 * 1024, 4096, 1):
            try:
                while out.write(bytes(size)) == size:
                    pass
            except OSError:
                continue
    return filler
