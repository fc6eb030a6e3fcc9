"""One worker of the queue that wakes its workers. `work` starts it, and starts it again."""

from typing import Any

from django.conf import settings
from django.core.management import BaseCommand, CommandError


class Command(BaseCommand):
    help = "One process of `work` where TASK_QUEUE is procrastinate; start `work` instead."

    def handle(self, *args: Any, **options: Any) -> None:
        if settings.TASK_QUEUE != "procrastinate":
            raise CommandError("TASK_QUEUE is not procrastinate; start the worker with: manage.py work")
        from bandroom.queues.procrastinate import work  # noqa: PLC0415 - needs its Django app

        work()
