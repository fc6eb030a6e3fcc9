"""Settings that hold everywhere. What differs stands in dev.py, test.py and production.py."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import django_stubs_ext
from django.utils.csp import CSP

from bandroom import logs
from bandroom.settings import environment
from bandroom.settings.databases import database
from bandroom.settings.queues import cache, queue_app, tasks

# Django's generic classes are told their types, as in `ModelForm[Policy]`, also when the program runs.
django_stubs_ext.monkeypatch()

BASE_DIR = Path(__file__).resolve().parents[2]
VAR_DIR = Path(environment.text("BANDROOM_VAR", str(BASE_DIR / "var")))

# Who hands tasks to workers; see bandroom.queues.
TASK_QUEUE = environment.text("TASK_QUEUE", "database")

INSTALLED_APPS = [
    "bandroom",
    "bandroom.people",
    "exercises",
    "submissions",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "crispy_forms",
    queue_app(TASK_QUEUE),
]

MIDDLEWARE = [
    "bandroom.logs.RequestLogMiddleware",
    "bandroom.room.RoomMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "django.middleware.csp.ContentSecurityPolicyMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "bandroom.compressing.CompressionMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "bandroom.headers.HeadersMiddleware",
    "bandroom.people.middleware.MembershipMiddleware",
    "bandroom.people.middleware.StaffLanguageMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]

ROOT_URLCONF = "bandroom.urls"
WSGI_APPLICATION = "bandroom.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "bandroom.people.reading.reading",
            ],
        },
    },
]

DATABASES = {
    "default": database(environment.text("DATABASE_URL", f"sqlite:///{VAR_DIR / 'bandroom.sqlite3'}"))
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

CACHES = {
    # Each process has its own, or all machines share one. Sessions lie in the database anyway.
    "default": cache(environment.text("CACHE", "memory")),
    # Engraved parts, keyed by the hash of all that goes into them: never stale, safe to delete at any time.
    "engravings": {
        "BACKEND": "django.core.cache.backends.filebased.FileBasedCache",
        "LOCATION": VAR_DIR / "engravings",
        "TIMEOUT": None,
        "OPTIONS": {"MAX_ENTRIES": 20_000},
    },
}

STORAGES: dict[str, dict[str, Any]] = {
    "default": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {"location": VAR_DIR / "files"},
    },
    # Recordings. Outside the web root: they leave only through a view that checks who asks.
    "takes": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {
            "location": VAR_DIR / "takes",
            "file_permissions_mode": 0o640,
            "directory_permissions_mode": 0o750,
        },
    },
    # Who was erased, by random keys: outside the database, so that restoring one brings nobody back.
    "erasures": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {
            "location": VAR_DIR / "erasures",
            "file_permissions_mode": 0o640,
            "directory_permissions_mode": 0o750,
        },
    },
    "staticfiles": {"BACKEND": "bandroom.static_files.ManifestStorage"},
}
# Where a worker puts what an engine reads and writes, for the minutes that takes; each machine's own.
WORK_DIR = VAR_DIR / "work"
# A phone's video of a minute is well below this; its picture is dropped on arrival.
TAKE_MAX_BYTES = environment.number("TAKE_MAX_BYTES", 300 * 1024 * 1024)
TAKE_MAX_SECONDS = environment.number("TAKE_MAX_SECONDS", 15 * 60)
# Kept free for the database on the disk that it lies on: recordings and drawings stop before it.
DISK_RESERVE_MB = environment.number("DISK_RESERVE_MB", 64)
# A guard of the disk, far above what anybody plays.
TAKES_PER_ASSIGNMENT = environment.number("TAKES_PER_ASSIGNMENT", 100)
# Of one student: five hundred takes of two minutes. Of one band: what a thousand students send in a year.
STUDENT_MOST_BYTES = environment.number("STUDENT_MOST_MB", 2_000) * 1024 * 1024
BAND_MOST_BYTES = environment.number("BAND_MOST_GB", 200) * 1024**3
# Bytes of an upload that stopped are freed after so many days; the take can still be sent again.
UPLOAD_KEEP_DAYS = environment.number("UPLOAD_KEEP_DAYS", 14)
# How a recording reaches a browser after the check of who asks: by this program (view), by the web server
# in front of it (x-accel), or from object storage by an address that is valid for minutes (redirect).
TAKES_DELIVERY = environment.text("TAKES_DELIVERY", "view")
TAKES_ACCEL_PREFIX = environment.text("TAKES_ACCEL_PREFIX", "/takes-on-disk/")
# Django's own limit guards form posts; tus chunks are read as a stream and have a limit of their own.
DATA_UPLOAD_MAX_MEMORY_SIZE = 6 * 1024 * 1024

TASKS = tasks(TASK_QUEUE)
# The one module with tasks of procrastinate's own kind.
PROCRASTINATE_AUTODISCOVER_MODULE_NAME = ""
PROCRASTINATE_IMPORT_PATHS = ["bandroom.queues.procrastinate"]

AUTH_USER_MODEL = "people.User"
AUTHENTICATION_BACKENDS = ["bandroom.people.signing_in.NameBackend"]
PASSWORD_HASHERS = [
    "bandroom.people.hashing.SchoolHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "people:sign-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "people:sign-in"
SESSION_COOKIE_AGE = int(timedelta(days=14).total_seconds())
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "django.views.csrf.csrf_failure"

# How many reverse proxies stand before this program, each adding the address it saw to X-Forwarded-For.
PROXY_COUNT = 0

# What a family's export holds and what is erased with a student, beyond bandroom.people's own rows: see
# bandroom.people.services.families.
FAMILY_EXPORTERS = ["exercises.family.export_ranges", "submissions.followup.family.export_work"]
FAMILY_ERASERS: list[str] = []

CRISPY_ALLOWED_TEMPLATE_PACKS = ("bandform",)
CRISPY_TEMPLATE_PACK = "bandform"

LANGUAGE_CODE = "en"
# Students read every page of theirs in any of these; each calls itself by its own name. Staff read English.
LANGUAGES = [("en", "English"), ("es", "Español")]
LOCALE_PATHS = [BASE_DIR / "locale"]
FORMAT_MODULE_PATH = ["bandroom.formats"]
LANGUAGE_COOKIE_AGE = int(timedelta(days=365).total_seconds())
LANGUAGE_COOKIE_HTTPONLY = True
LANGUAGE_COOKIE_SAMESITE = "Lax"
TIME_ZONE = "UTC"
USE_I18N = True
USE_TZ = True

STATIC_URL = "/static/"
# An image of a container brings its own.
STATIC_ROOT = Path(environment.text("STATIC_ROOT", str(VAR_DIR / "static")))
WHITENOISE_KEEP_ONLY_HASHED_FILES = True

SECURE_CSP = {
    "default-src": [CSP.NONE],
    "script-src": [CSP.SELF],
    "style-src": [CSP.SELF],
    "img-src": [CSP.SELF],
    "font-src": [CSP.SELF],
    "connect-src": [CSP.SELF],
    "worker-src": [CSP.SELF],
    "manifest-src": [CSP.SELF],
    "media-src": [CSP.SELF, "blob:"],
    "form-action": [CSP.SELF],
    "base-uri": [CSP.NONE],
    "frame-ancestors": [CSP.NONE],
}
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

LOGGING = logs.config(json_lines=False)
