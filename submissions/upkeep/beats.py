"""Which workers live. Each machine's supervisor says so by itself; nobody asks it."""

from datetime import datetime, timedelta

from django.db.models import Max

from submissions.models import WorkerBeat

SILENT_AFTER = timedelta(minutes=2)
FORGOTTEN_AFTER = timedelta(days=30)


def beat(*, name: str, at: datetime) -> None:
    """The worker of this name lives."""
    WorkerBeat.objects.update_or_create(name=name, defaults={"at": at})
    WorkerBeat.objects.filter(at__lt=at - FORGOTTEN_AFTER).delete()


def last_beat() -> datetime | None:
    """When any worker was last heard of; None where none ever was."""
    newest: datetime | None = WorkerBeat.objects.aggregate(at=Max("at"))["at"]
    return newest
