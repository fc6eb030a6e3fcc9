"""Room on the disk for the database, whatever else fills it.

A database that cannot write a byte can often not even be read (SQLite needs a few pages beside it to open at
all), so a disk that recordings or somebody else's log had filled closed the door to everybody. A file of a
reserved size stands on that disk. Long before it is full no recording and no cached drawing is written any
more; if it fills all the same, the file is deleted, and what people type, mark and sign in with has its room.
"""

import logging
import os
from collections.abc import Callable
from pathlib import Path

from django.conf import settings
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string

logger = logging.getLogger(__name__)

MEGABYTE = 1024 * 1024
NAME = "room-for-the-database"
# On a small disk the reserve is a part of it.
LARGEST_SHARE = 16
FULL_WORDS = ("disk is full", "disk i/o error", "no space left", "unable to open database file")


def make_room() -> None:
    """Give the reserve to the database where next to nothing is left. Cheap: one question to the system."""
    total, free = _size_of_disk()
    if free < _reserve(total) // 8 and _file().exists():
        _file().unlink(missing_ok=True)
        logger.error("The disk of %s is full: the reserve for the database was opened", folder())


def set_aside() -> None:
    """Set the reserve aside, where there is plenty of room for it."""
    total, free = _size_of_disk()
    size = _reserve(total)
    if not size or free < 3 * size or _file().exists():
        return
    unfinished = _file().with_suffix(f".{os.getpid()}")
    try:
        with unfinished.open("wb") as file:
            if hasattr(os, "posix_fallocate"):
                os.posix_fallocate(file.fileno(), 0, size)
            else:
                file.write(bytes(size))
        unfinished.rename(_file())
    except OSError:
        logger.warning("No reserve could be set aside in %s", folder(), exc_info=True)
        unfinished.unlink(missing_ok=True)


def is_short() -> bool:
    """Whether what is left is for the database alone."""
    total, free = _size_of_disk()
    size = _reserve(total)
    kept = size if size and _file().exists() else 0
    return free + kept < size + size // 4


def is_full(error: OperationalError) -> bool:
    """Whether a database could not go on because there is no room left."""
    return any(word in str(error).lower() for word in FULL_WORDS)


class RoomMiddleware:
    """Before a request: room for the database. After one that failed for want of it: a page that says so."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response
        set_aside()

    def __call__(self, request: HttpRequest) -> HttpResponse:
        make_room()
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if not isinstance(exception, OperationalError) or not is_full(exception):
            return None
        logger.error("The database has no room: %s", exception)
        return HttpResponse(render_to_string("507.html"), status=507)


def _reserve(total: int) -> int:
    return min(settings.DISK_RESERVE_MB * MEGABYTE, total // LARGEST_SHARE)


def _file() -> Path:
    return folder() / NAME


def folder() -> Path:
    """Where the database writes, as far as this machine knows."""
    database = settings.DATABASES["default"]
    if database["ENGINE"].endswith("sqlite3"):
        return Path(database["NAME"]).parent
    return Path(settings.VAR_DIR)


def _size_of_disk() -> tuple[int, int]:
    """Bytes of the whole disk and those still free for us; without limit where nobody can tell."""
    try:
        disk = os.statvfs(folder())
    except (OSError, AttributeError):
        return 0, 0
    return disk.f_blocks * disk.f_frsize, disk.f_bavail * disk.f_frsize
