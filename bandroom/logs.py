"""What is written to the log, and how: one JSON line an event on a server, plain lines on a laptop.

A line carries the identifier of the request it belongs to, which the answer carries too (`X-Request-ID`).
No line carries what a visitor typed, an address of theirs or the path they asked for: a request is told by
the name of its page. What an error says about itself is cut to its first line, with everything in quotation
marks left out, since that is where libraries repeat the values of a row.
"""

import json
import logging
import re
import secrets
import time
import traceback
from collections.abc import Callable
from contextvars import ContextVar
from datetime import UTC, datetime
from typing import Any

from django.http import HttpRequest, HttpResponse

logger = logging.getLogger("bandroom.request")

REQUEST_HEADER = "X-Request-ID"
_request: ContextVar[str] = ContextVar("request", default="")

#: Told for each task and each look at the queue; what fails among them is told all the same.
CHATTER = ("django.tasks", "django_tasks_db", "procrastinate")
QUOTED = re.compile(r"'[^']*'|\"[^\"]*\"|“[^”]*”|«[^»]*»|\([^()]*\)=\([^()]*\)")
FRAMES = 12


def config(*, json_lines: bool, level: str = "INFO") -> dict[str, Any]:
    """Django's LOGGING: everything goes to the standard error, where systemd and containers collect it."""
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"},
            "json": {"()": "bandroom.logs.JsonFormatter"},
        },
        "filters": {"no_chatter": {"()": "bandroom.logs.NoChatter"}},
        "handlers": {
            "console": {
                "class": "logging.StreamHandler",
                "formatter": "json" if json_lines else "line",
                "filters": ["no_chatter"],
            }
        },
        "root": {"handlers": ["console"], "level": level},
        "loggers": {
            # Django's own handlers off: one line an event, from the handler above.
            "django": {"handlers": [], "level": level, "propagate": True},
            "django.server": {"handlers": [], "level": "CRITICAL", "propagate": True},
            # A page that is not there or not theirs is a visitor's everyday.
            "django.request": {"level": "ERROR"},
            "django.security": {"level": "CRITICAL"},
            # A wrong try at signing in would be told with the address that it came from.
            # This one refusal tells of a setting: ALLOWED_HOSTS.
            "django.security.DisallowedHost": {"level": "ERROR"},
            "gunicorn.error": {"handlers": [], "level": "WARNING", "propagate": True},
            "gunicorn.access": {"handlers": [], "level": "CRITICAL", "propagate": True},
            **{name: {"level": "WARNING"} for name in ("weasyprint.progress", "fontTools", "botocore")},
        },
    }


class NoChatter(logging.Filter):
    """Drops what the queue says about work that goes well, at whatever level its worker was set to."""

    def filter(self, record: logging.LogRecord) -> bool:
        return record.levelno >= logging.WARNING or not record.name.startswith(CHATTER)


class JsonFormatter(logging.Formatter):
    """One event as one line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        line: dict[str, Any] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "event": _event(record),
        }
        if request := _request.get():
            line["request"] = request
        if page := page_name(getattr(record, "request", None)):
            line["page"] = page
        line |= getattr(record, "fields", {})
        error = record.exc_info[1] if record.exc_info else None
        if error is not None:
            line["error"] = _error(error)
        return json.dumps(line, ensure_ascii=False, default=str)


def _event(record: logging.LogRecord) -> str:
    if record.name == "django.request" and isinstance(record.args, tuple) and record.args:
        return str(record.args[0])  # "Internal Server Error"; what follows is the path
    return record.getMessage()


def _error(error: BaseException) -> dict[str, Any]:
    said = str(error).strip().split("\n", 1)[0]
    frames = traceback.extract_tb(error.__traceback__)[-FRAMES:]
    told: dict[str, Any] = {
        "type": f"{type(error).__module__}.{type(error).__qualname__}",
        "says": QUOTED.sub("…", said),
        "where": [f"{frame.filename}:{frame.lineno} {frame.name}" for frame in frames],
    }
    if error.__cause__ is not None:
        told["because"] = _error(error.__cause__)
    return told


def page_name(request: object) -> str:
    """The name of the page that was asked for, without anything that an address carries."""
    match = getattr(request, "resolver_match", None)
    return str(match.view_name) if match is not None else ""


class RequestLogMiddleware:
    """Each request gets an identifier of ours, and one line once it is answered: page, status, time.

    An identifier that a visitor sends is not taken over: it could hold anything. Refusals (4xx) and static
    files are told only to those who set the level to DEBUG; Django itself tells of what failed (5xx).
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        identifier = secrets.token_hex(8)
        token = _request.set(identifier)
        began = time.perf_counter()
        try:
            response = self.get_response(request)
            response[REQUEST_HEADER] = identifier
            told = response.status_code < 400 and page_name(request)
            level = logging.INFO if told else logging.DEBUG
            fields = {
                "method": request.method,
                "status": response.status_code,
                "ms": round(1000 * (time.perf_counter() - began)),
            }
            logger.log(level, "answered", extra={"request": request, "fields": fields})
        finally:
            _request.reset(token)
        return response
