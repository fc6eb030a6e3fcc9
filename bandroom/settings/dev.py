"""A laptop: SQLite, the demo school, no secrets."""

from bandroom import logs
from bandroom.settings.base import *  # noqa: F403
from bandroom.settings.base import STORAGES

DEBUG = True
SECRET_KEY = "for-a-laptop-only-never-for-a-school"  # noqa: S105
ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]"]
INTERNAL_IPS: list[str] = []
STORAGES = STORAGES | {"staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
WHITENOISE_USE_FINDERS = True
# `make run` says where it is and whom to sign in as; after that, what went wrong.
LOGGING = logs.config(json_lines=False, level="WARNING")
