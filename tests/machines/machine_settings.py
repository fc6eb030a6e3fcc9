"""One machine of several: its own folder, the school's database and bucket, the queue that wakes workers."""

import json
import os
from pathlib import Path

from bandroom.settings import environment
from bandroom.settings.buckets import in_bucket
from bandroom.settings.test import *  # noqa: F403
from bandroom.settings.test import CACHES, STORAGES

VAR_DIR = Path(os.environ["BANDROOM_VAR"])
WORK_DIR = VAR_DIR / "work"
DATABASES = {"default": json.loads(os.environ["MACHINE_DATABASE"])}
STORAGES = STORAGES | {"takes": in_bucket(environment.text("S3_BUCKET"))}
CACHES = CACHES | {
    "engravings": {
        "BACKEND": "django.core.cache.backends.filebased.FileBasedCache",
        "LOCATION": VAR_DIR / "engravings",
    }
}
