"""django-tasks-db: a table that workers look at every so often, on SQLite and PostgreSQL alike."""

import sys
from datetime import datetime, timedelta

from django.core.management import call_command
from django_tasks_db.models import DBTaskResult

# A worker is replaced after so many tasks, so that no leak grows for months.
TASKS_A_WORKER = 500
KEPT_DAYS = 14
# Nothing runs for a day: such a message belongs to a worker that was killed.
LOST_AFTER = timedelta(days=1)


def worker_command(*, interval: float) -> list[str]:
    return [
        *(sys.executable, "-m", "django", "db_worker", "--queue-name", "*", "--no-reload"),
        *("--interval", str(interval), "--max-tasks", str(TASKS_A_WORKER), "--no-startup-delay"),
    ]


def run_waiting() -> None:
    call_command("db_worker", queue_name="*", batch=True, interval=0, reload=False, startup_delay=False)


def bring_back() -> int:
    """None: nobody can tell a killed worker from a busy one here. Leases bring the work itself back."""
    return 0


def forget_old(*, at: datetime) -> None:
    call_command("prune_db_task_results", min_age_days=KEPT_DAYS, verbosity=0)
    DBTaskResult.objects.running().filter(started_at__lt=at - LOST_AFTER).delete()
