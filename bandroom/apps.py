from typing import Any

from django.apps import AppConfig, apps
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.core.management import call_command
from django.db.models.signals import post_migrate


class BandroomConfig(AppConfig):
    name = "bandroom"
    label = "bandroom"

    def ready(self) -> None:
        if (
            settings.TASK_QUEUE == "procrastinate"
            and settings.DATABASES["default"]["ENGINE"] != "django.db.backends.postgresql"
        ):
            raise ImproperlyConfigured(
                "TASK_QUEUE is procrastinate, which needs PostgreSQL: set DATABASE_URL to one, "
                "or leave TASK_QUEUE out."
            )
        # Told of apps with rows only; any of them will do.
        people = apps.get_app_config("people")
        post_migrate.connect(_make_cache_table, sender=people, dispatch_uid="make-cache-table")


def _make_cache_table(*, using: str, **_: Any) -> None:
    """`migrate` makes the table of a shared cache as well; it does nothing where there is none."""
    call_command("createcachetable", database=using, verbosity=0)
