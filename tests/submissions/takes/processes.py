"""What a process of its own needs to work on a test's database and folders."""

import json
import os

from django.conf import settings
from django.core.files.storage import storages
from django.db import connection

COPIED = (
    "ENGINE",
    "NAME",
    "USER",
    "PASSWORD",
    "HOST",
    "PORT",
    "OPTIONS",
    "CONN_MAX_AGE",
    "CONN_HEALTH_CHECKS",
)


def environment() -> dict[str, str]:
    """The environment for `worker_settings`."""
    database = {name: connection.settings_dict[name] for name in COPIED}
    return os.environ | {
        "DJANGO_SETTINGS_MODULE": "tests.submissions.takes.worker_settings",
        "WORKER_DATABASE": json.dumps(database, default=str),
        "WORKER_WORK": str(settings.WORK_DIR),
        # A bucket is found by S3_BUCKET and the rest, which stand in this process's environment already.
        "WORKER_TAKES": str(storages["takes"].location),
        "WORKER_ERASURES": str(storages["erasures"].location),
    }
