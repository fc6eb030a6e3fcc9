"""How tasks reach workers, and where what several web processes must agree on is kept for a while."""

from typing import Any

from django.core.exceptions import ImproperlyConfigured

APPS = {"database": "django_tasks_db", "procrastinate": "procrastinate.contrib.django"}
BACKENDS = {
    "database": "django_tasks_db.DatabaseBackend",
    "procrastinate": "bandroom.queues.procrastinate.Backend",
}
QUEUES = ["default", "takes", "listening"]
CACHES = {
    "memory": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"},
    "database": {"BACKEND": "django.core.cache.backends.db.DatabaseCache", "LOCATION": "bandroom_cache"},
}


def queue_app(name: str) -> str:
    """The Django app, and with it the tables, of the queue that was chosen."""
    return _one_of(APPS, name, setting="TASK_QUEUE")


def tasks(name: str) -> dict[str, Any]:
    return {"default": {"BACKEND": _one_of(BACKENDS, name, setting="TASK_QUEUE"), "QUEUES": QUEUES}}


def cache(name: str) -> dict[str, Any]:
    return _one_of(CACHES, name, setting="CACHE")


def _one_of[V](choices: dict[str, V], name: str, *, setting: str) -> V:
    if name not in choices:
        raise ImproperlyConfigured(f"{setting} is {name!r}: write {' or '.join(choices)}.")
    return choices[name]
