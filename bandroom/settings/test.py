"""The test suite: fast hashing, plain static files, a scratch folder of its own."""

import os
import secrets
import tempfile
from pathlib import Path

from bandroom.settings import environment
from bandroom.settings.base import *  # noqa: F403
from bandroom.settings.base import CACHES, STORAGES
from bandroom.settings.databases import database

DEBUG = False
SECRET_KEY = "for-tests-only"  # noqa: S105
ALLOWED_HOSTS = ["testserver", "localhost", "127.0.0.1"]
# Only a name: whoever works in the folder makes it and removes it, and most who read settings do not.
VAR_DIR = Path(tempfile.gettempdir()) / f"bandroom-test-{os.getpid()}-{secrets.token_hex(8)}"
# A file, not memory: tests with real concurrency open connections of their own. It is named here too,
# although nobody opens it: a server for a browser starts before the tests' database is made and looks at
# this name; for a database in memory its threads would share one connection, which ends the process.
DATABASES = {
    "default": database(environment.text("TEST_DATABASE_URL", f"sqlite:///{VAR_DIR / 'test.sqlite3'}"))
}
DATABASES["default"].setdefault("TEST", {})
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["TEST"]["NAME"] = str(VAR_DIR / "test.sqlite3")
    # Nothing here has to outlive a power cut.
    DATABASES["default"]["OPTIONS"]["init_command"] += " PRAGMA synchronous=OFF;"
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = STORAGES | {
    "default": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {"location": VAR_DIR / "files"},
    },
    "takes": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": STORAGES["takes"]["OPTIONS"] | {"location": VAR_DIR / "takes"},
    },
    "erasures": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {"location": VAR_DIR / "erasures"},
    },
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
WORK_DIR = VAR_DIR / "work"
# A machine that tests run on may be nearly full; the tests of a full disk bring their own.
DISK_RESERVE_MB = 0
CACHES = CACHES | {
    "engravings": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache", "LOCATION": "engravings"}
}
WHITENOISE_AUTOREFRESH = True
WHITENOISE_USE_FINDERS = True
