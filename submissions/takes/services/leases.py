"""Work that a worker holds for a time: claimed once, given back, tried again, never lost.

The queue delivers at least once and forgets a worker that was killed. So the row of the work itself says
who may do it: a move from waiting to running is one conditional update, and whoever runs it holds a lease.
The lease is short and said again while the work goes on, so what a killed worker held is soon found; a row
whose time is over is found by `recover`, whether its worker died or its message was lost.
"""

import logging
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db import DatabaseError, connection, models
from django.db.models import F

logger = logging.getLogger(__name__)

# How long a worker that says nothing is believed to live, and how often it says so: well before the time
# is over, also where it waits for a database that others write to.
LEASE = timedelta(seconds=30)
SAID_EVERY_SECONDS = 7.0
# After the first failure, after the second.
BACK_OFF = (timedelta(seconds=15), timedelta(seconds=60))
# A fault of the machine (disk full, storage away) is waited out and does not count as a try.
MACHINE_BACK_OFF = timedelta(minutes=5)
MOST_TRIES = 3
# When a waiting row is looked at again in case its message was lost.
LOOK_AGAIN = timedelta(minutes=10)


@dataclass(frozen=True, slots=True)
class Work[M: models.Model]:
    """Which rows are work, and the names of their states."""

    model: type[M]
    waiting: str
    running: str
    given_up: str
    # Whoever holds a row for longer than any run may take hangs: its lease is not renewed any more.
    longest: timedelta


@dataclass(frozen=True, slots=True)
class Again:
    """Try again at `after`; `row_pk` is of the work's model."""

    row_pk: Any
    after: datetime


def claim[M: models.Model](work: Work[M], *, pk: Any, at: datetime) -> M | None:
    """The row, now running and ours; None where it is not waiting (any more)."""
    claimed = work.model._default_manager.filter(pk=pk, state=work.waiting).update(
        state=work.running, tries=F("tries") + 1, lease_until=at + LEASE
    )
    return work.model._default_manager.get(pk=pk) if claimed else None


@contextmanager
def kept[M: models.Model](work: Work[M], *, row: M, clock: Callable[[], datetime]) -> Iterator[None]:
    """While the block runs, say again and again that the row is ours; a thread of its own does it."""
    over = threading.Event()
    thread = threading.Thread(target=_keep, args=(work, row, clock, over), daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


def _keep[M: models.Model](
    work: Work[M], row: M, clock: Callable[[], datetime], over: threading.Event
) -> None:
    ends = time.monotonic() + work.longest.total_seconds()
    while not over.wait(SAID_EVERY_SECONDS) and time.monotonic() < ends:
        try:
            _held(work, row).update(lease_until=clock() + LEASE)
        except DatabaseError:
            logger.warning("The lease of %s could not be renewed", row.pk, exc_info=True)
        finally:
            connection.close()  # this thread's own


def settle[M: models.Model](work: Work[M], *, row: M, **fields: Any) -> bool:
    """Move a row we hold to where it ends; False where our lease was lost and somebody else has it."""
    return bool(_held(work, row).update(lease_until=None, **fields))


def give_back[M: models.Model](
    work: Work[M], *, row: M, at: datetime, reason: str, machine: bool = False, lost: bool = False
) -> Again | None:
    """Return a row to waiting, or give it up with `reason` after the third try.

    `machine` marks a fault that says nothing about this row; `lost`, that its worker died, which was waited
    for long enough. None where nothing is to be tried again.
    """
    tries: int = row.tries  # type: ignore[attr-defined]  # every model of work counts its tries
    if not machine and tries >= MOST_TRIES:
        settle(work, row=row, state=work.given_up, reason=reason)
        return None
    back_off = MACHINE_BACK_OFF if machine else BACK_OFF[min(tries, len(BACK_OFF)) - 1]
    after = at if lost else at + back_off
    back = _held(work, row).update(
        state=work.waiting, lease_until=after + LOOK_AGAIN, tries=F("tries") - (1 if machine else 0)
    )
    return Again(row_pk=row.pk, after=after) if back else None


def recover[M: models.Model](work: Work[M], *, at: datetime, reason: str) -> Iterable[Again]:
    """Bring back every row whose time is over; yields what is to be queued again."""
    overdue = work.model._default_manager.filter(lease_until__lt=at)
    for row in overdue.filter(state=work.running):
        again = give_back(work, row=row, at=at, reason=reason, lost=True)
        if again is not None:
            yield again
    for row in overdue.filter(state=work.waiting):
        if work.model._default_manager.filter(pk=row.pk, state=work.waiting, lease_until__lt=at).update(
            lease_until=at + LOOK_AGAIN
        ):
            yield Again(row_pk=row.pk, after=at)


def _held[M: models.Model](work: Work[M], row: M) -> models.QuerySet[M]:
    tries: int = row.tries  # type: ignore[attr-defined]  # as above
    return work.model._default_manager.filter(pk=row.pk, state=work.running, tries=tries)
