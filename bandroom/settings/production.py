"""A school's server: everything from the environment, secrets also as NAME_FILE.

Required: SECRET_KEY, ALLOWED_HOSTS (comma-separated), DATABASE_URL.
"""

from django.utils.csp import CSP

from bandroom import logs
from bandroom.settings import environment
from bandroom.settings.base import *  # noqa: F403
from bandroom.settings.base import SECURE_CSP, STORAGES
from bandroom.settings.buckets import in_bucket
from bandroom.settings.databases import database

DEBUG = False
SECRET_KEY = environment.text("SECRET_KEY")
SECRET_KEY_FALLBACKS = environment.words("SECRET_KEY_FALLBACKS")
ALLOWED_HOSTS = environment.words("ALLOWED_HOSTS")
CSRF_TRUSTED_ORIGINS = [f"https://{host}" for host in ALLOWED_HOSTS if not host.startswith(".")]
DATABASES = {"default": database(environment.text("DATABASE_URL"))}

# Asked on the machine itself, or by the proxy.
SECURE_REDIRECT_EXEMPT = [r"^(alive|ready)$"]
SECURE_SSL_REDIRECT = environment.flag("HTTPS_REDIRECT", default=True)
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_HSTS_SECONDS = environment.number("HSTS_SECONDS", 365 * 24 * 3600)
SECURE_HSTS_INCLUDE_SUBDOMAINS = environment.flag("HSTS_SUBDOMAINS", default=False)
SECURE_HSTS_PRELOAD = environment.flag("HSTS_PRELOAD", default=False)
# Both bind names that are not ours to decide about: a school says so itself, knowing what it means.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
SESSION_COOKIE_SECURE = True
CSRF_COOKIE_SECURE = True
LANGUAGE_COOKIE_SECURE = True
# Behind one reverse proxy its last X-Forwarded-For entry is the visitor's address.
PROXY_COUNT = environment.number("PROXY_COUNT", 1)

if bucket := environment.text("S3_BUCKET", ""):
    STORAGES = STORAGES | {
        "takes": in_bucket(bucket),
        "erasures": in_bucket(bucket, folder="erasures"),
    }
# Where recordings are played from when TAKES_DELIVERY is redirect, such as https://objects.school.example.
if origin := environment.text("TAKES_ORIGIN", ""):
    SECURE_CSP = SECURE_CSP | {"media-src": [CSP.SELF, "blob:", origin]}

LOGGING = logs.config(json_lines=True, level=environment.text("LOG_LEVEL", "INFO"))
