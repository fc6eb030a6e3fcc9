"""Which program hands tasks to workers: two stand behind Django's tasks, and `TASK_QUEUE` chooses one.

`database` needs nothing: its workers look at a table every so often. `procrastinate` needs PostgreSQL, which
wakes its workers; they tell that they live, so a message of one that was killed comes back in seconds.
Neither is trusted with the work itself, which is claimed by its own row (submissions.takes.services.leases).
"""

from datetime import datetime
from importlib import import_module
from typing import Protocol, cast

from django.conf import settings


class Queue(Protocol):
    """What `manage.py work` asks of either."""

    def worker_command(self, *, interval: float) -> list[str]:
        """Of a process that works until it is ended, or until it has grown old."""
        ...

    def run_waiting(self) -> None:
        """Do here and now what waits."""
        ...

    def bring_back(self) -> int:
        """Messages of workers that were killed; returns how many."""
        ...

    def forget_old(self, *, at: datetime) -> None:
        """Messages that are done with."""
        ...


def chosen() -> Queue:
    return cast(Queue, import_module(f"bandroom.queues.{settings.TASK_QUEUE}"))
