"""The test suite's settings for a worker in a process of its own: the same database, the same folders."""

import json
import os
from pathlib import Path

from bandroom.settings.buckets import in_bucket
from bandroom.settings.test import *  # noqa: F403
from bandroom.settings.test import STORAGES

DATABASES = {"default": json.loads(os.environ["WORKER_DATABASE"])}
WORK_DIR = Path(os.environ["WORKER_WORK"])
STORAGES = STORAGES | {
    "takes": STORAGES["takes"] | {"OPTIONS": {"location": os.environ["WORKER_TAKES"]}},
    "erasures": STORAGES["erasures"] | {"OPTIONS": {"location": os.environ["WORKER_ERASURES"]}},
}
if bucket := os.environ.get("S3_BUCKET"):
    STORAGES = STORAGES | {"takes": in_bucket(bucket)}
