"""The test suite: fast hashing, plain static files, a scratch folder of its own."""

import tempfile
from pathlib import Path

from bandroom.settings import environment
from bandroom.settings.base import *  # noqa: F403
from bandroom.settings.base import CACHES, STORAGES
from bandroom.settings.databases import database

DEBUG = False
SECRET_KEY = "for-tests-only"  # noqa: S105
ALLOWED_HOSTS = ["testserver", "localhost", "127.0.0.1"]
VAR_DIR = Path(tempfile.mkdtemp(prefix="bandroom-test-"))
DATABASES = {
    "default": database(environment.text("TEST_DATABASE_URL", f"sqlite:///{VAR_DIR / 'test.sqlite3'}"))
}
# A file, not memory: tests with real concurrency open connections of their own.
DATABASES["default"].setdefault("TEST", {})
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["TEST"]["NAME"] = str(VAR_DIR / "test.sqlite3")
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
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
UPLOAD_DIR = VAR_DIR / "uploads"
CACHES = CACHES | {
    "engravings": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache", "LOCATION": "engravings"}
}
WHITENOISE_AUTOREFRESH = True
WHITENOISE_USE_FINDERS = True
