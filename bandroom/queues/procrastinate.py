"""procrastinate: a queue in PostgreSQL that wakes its workers, and hears whether they live."""

import contextlib
import logging
import sys
from collections.abc import Callable
from datetime import datetime
from typing import Any

from asgiref.sync import async_to_sync
from django.tasks import Task, TaskResult, TaskResultStatus
from django.tasks.backends.base import BaseTaskBackend
from django.tasks.signals import task_enqueued
from django.utils.module_loading import import_string
from django.utils.timezone import now
from procrastinate.contrib.django import app
from procrastinate.contrib.django.db_cleanup import close_db_connections
from procrastinate.exceptions import ConnectorException
from procrastinate.job_context import JobContext
from procrastinate.jobs import DeleteJobCondition
from procrastinate.worker import Worker

logger = logging.getLogger(__name__)

# As in the other queue: a worker is replaced after so many tasks.
TASKS_A_WORKER = 500
# New messages wake a worker; those for later are looked for this often.
LOOK_SECONDS = 2.0
HEARTBEAT_SECONDS = 2.0
DEAD_AFTER_SECONDS = 10.0
KEPT_HOURS = 14 * 24


class Backend(BaseTaskBackend):
    """Enqueues on Django's own connection: a message counts when the transaction around it does."""

    supports_defer = True
    supports_priority = True

    def enqueue(self, task: "Task[Any, Any]", args: Any, kwargs: Any) -> "TaskResult[Any, Any]":
        self.validate_task(task)
        job = run_task.configure(
            queue=task.queue_name, priority=task.priority, schedule_at=task.run_after
        ).defer(path=task.module_path, args=list(args), kwargs=dict(kwargs))
        result: TaskResult[Any, Any] = TaskResult(
            task=task,
            id=str(job),
            status=TaskResultStatus.READY,
            enqueued_at=now(),
            started_at=None,
            last_attempted_at=None,
            finished_at=None,
            args=list(args),
            kwargs=dict(kwargs),
            backend=self.alias,
            errors=[],
            worker_ids=[],
        )
        task_enqueued.send(type(self), task_result=result)
        return result


@app.task(name="run_task")
def run_task(path: str, args: list[Any], kwargs: dict[str, Any]) -> None:
    """What the message of every task asks for."""
    import_string(path).call(*args, **kwargs)


def worker_command(*, interval: float) -> list[str]:
    return [sys.executable, "-m", "django", "queue_worker"]


def run_waiting() -> None:
    _work(wait=False, install_signal_handlers=False)


def work() -> None:
    """Until it is ended by a signal, or has grown old."""
    # The first is what Django's requests do around themselves: a connection that died is made anew.
    _work(wait=True, task_middleware=[close_db_connections, _grow_old()])


def bring_back() -> int:
    """Messages whose worker's heart stands still. A task that was done after all is not done again."""
    lost = async_to_sync(app.job_manager.get_stalled_jobs)(seconds_since_heartbeat=DEAD_AFTER_SECONDS)
    back = 0
    for job in lost:
        with contextlib.suppress(ConnectorException):  # another machine was faster
            async_to_sync(app.job_manager.retry_job)(job)
            back += 1
    return back


def forget_old(*, at: datetime) -> None:
    async_to_sync(app.job_manager.delete_old_jobs)(nb_hours=KEPT_HOURS, include_failed=True)


def _work(**options: Any) -> None:
    # Django's connection cannot be woken; this one of its own can.
    app.with_connector(app.connector.get_worker_connector()).run_worker(  # type: ignore[attr-defined]  # DjangoConnector's
        concurrency=1,
        fetch_job_polling_interval=LOOK_SECONDS,
        update_heartbeat_interval=HEARTBEAT_SECONDS,
        stalled_worker_timeout=DEAD_AFTER_SECONDS,
        delete_jobs=DeleteJobCondition.SUCCESSFUL,
        **options,
    )


def _grow_old() -> Callable[[Callable[[], Any], JobContext, Worker], Any]:
    done = 0

    def count(call_next: Callable[[], Any], context: JobContext, worker: Worker) -> Any:
        nonlocal done
        done += 1
        if done >= TASKS_A_WORKER:
            worker.stop()  # type: ignore[no-untyped-call]  # it has no hints
        return call_next()

    return count
