"""Whether everything that Bandroom needs is there: for whoever watches the server, without any data."""

import logging
import secrets
import time
from collections.abc import Callable
from datetime import datetime

from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from bandroom import room
from submissions.upkeep import beats
from submissions.upkeep.waiting import waiting_long

logger = logging.getLogger(__name__)

# Anybody may ask; the storage is written to no more often than this by one process.
ASKED_EVERY_SECONDS = 5.0
_told: tuple[float, dict[str, bool]] | None = None


def readiness(*, at: datetime) -> dict[str, bool]:
    """By name, whether it is well; a few seconds old at most."""
    global _told
    if _told is None or time.monotonic() - _told[0] > ASKED_EVERY_SECONDS:
        _told = (time.monotonic(), look(at=at))
    return _told[1]


def look(*, at: datetime) -> dict[str, bool]:
    checks: dict[str, Callable[[], bool]] = {
        "database": _database,
        "migrations": _migrations,
        "storage": _storage,
        "takes": lambda: waiting_long(at=at) is None,
        "worker": lambda: _worker(at=at),
    }
    return {name: _is_well(name, check) for name, check in checks.items()}


def _is_well(name: str, check: Callable[[], bool]) -> bool:
    try:
        return check()
    except Exception:
        # Whatever it is, it is not well; the log has the rest.
        logger.warning("Not ready: %s", name, exc_info=True)
        return False


def _database() -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
        return cursor.fetchone() is not None


def _migrations() -> bool:
    executor = MigrationExecutor(connection)
    return not executor.migration_plan(executor.loader.graph.leaf_nodes())


def _storage() -> bool:
    """A recording could be stored now: a few bytes are, and deleted again."""
    if room.is_short():
        return False
    storage = storages["takes"]
    name = storage.save(f"ready/{secrets.token_hex(8)}", ContentFile(b"ready"))
    storage.delete(name)
    return True


def _worker(*, at: datetime) -> bool:
    last = beats.last_beat()
    return last is not None and at - last <= beats.SILENT_AFTER
