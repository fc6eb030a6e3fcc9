"""Read settings from the environment, secrets also from files.

A secret `NAME` may be given as `NAME_FILE`, the path of a file that holds it, as container
platforms and systemd credentials provide it.
"""

import os
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured


def text(name: str, default: str | None = None) -> str:
    """The value of `name`, or the content of the file that `name`_FILE names."""
    if name in os.environ:
        return os.environ[name]
    if path := os.environ.get(f"{name}_FILE"):
        return Path(path).read_text(encoding="utf-8").strip()
    if default is None:
        raise ImproperlyConfigured(f"Set {name}, or {name}_FILE to the path of a file that holds it.")
    return default


def words(name: str, default: str = "") -> list[str]:
    """A comma-separated list; empty entries are dropped."""
    return [word for part in text(name, default).split(",") if (word := part.strip())]


def flag(name: str, *, default: bool) -> bool:
    """Yes for 1, true, yes or on; no for 0, false, no or off; anything else is refused."""
    value = text(name, "on" if default else "off").strip().lower()
    if value in {"1", "true", "yes", "on"}:
        return True
    if value in {"0", "false", "no", "off", ""}:
        return False
    raise ImproperlyConfigured(f"{name} is {value!r}: write on or off.")


def number(name: str, default: int) -> int:
    value = text(name, str(default))
    try:
        return int(value)
    except ValueError:
        raise ImproperlyConfigured(f"{name} is {value!r}: write a whole number.") from None
