"""How pages are set for somebody's eyes: roomy letters, strong contrast.

A cookie of this browser remembers it, so that pages come that way from the first letter on, and nothing of
it is stored with a student: it can say something about a child's health. Where the sign-in ends with the
browser, as on a shared laptop, so does this, and signing out ends it at once; on an own phone it stays.
"""

from collections.abc import Iterable
from datetime import timedelta
from enum import StrEnum
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse

COOKIE = "reading"  # also named in reading.js
REMEMBERED = timedelta(days=365)
BETWEEN = "."


class Setting(StrEnum):
    """Each is a style sheet of its own name that a page then follows."""

    ROOMY = "roomy"
    STRONG = "strong"


def settings_of(request: HttpRequest) -> frozenset[Setting]:
    """What this browser asked for; anything else in the cookie is passed over."""
    asked = request.COOKIES.get(COOKIE, "").split(BETWEEN)
    return frozenset(setting for setting in Setting if setting in asked)


def reading(request: HttpRequest) -> dict[str, Any]:
    """For templates, as a context processor: {% if reading.roomy %}."""
    chosen = settings_of(request)
    return {"reading": {setting.value: setting in chosen for setting in Setting}}


def remember(response: HttpResponse, *, request: HttpRequest, chosen: Iterable[Setting]) -> None:
    """For a year where somebody is signed in to stay, else until the browser is closed."""
    stays = request.user.is_authenticated and not request.session.get_expire_at_browser_close()
    response.set_cookie(
        COOKIE,
        BETWEEN.join(sorted(chosen)),
        max_age=REMEMBERED if stays else None,
        secure=settings.SESSION_COOKIE_SECURE,
        samesite="Lax",
        httponly=False,  # pages kept for use without a network follow it by script
    )


def forget(response: HttpResponse) -> None:
    response.delete_cookie(COOKIE, samesite="Lax")
