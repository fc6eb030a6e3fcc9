"""Headers of every answer: what a browser may keep of it, and what its page may use of the device."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.cache import patch_cache_control

#: The microphone is for our own recorder. Whatever no page of a band needs is off, for ourselves as well.
PERMISSIONS = ", ".join(
    (
        "microphone=(self)",
        *(
            f"{feature}=()"
            for feature in (
                *(
                    "accelerometer",
                    "camera",
                    "display-capture",
                    "encrypted-media",
                    "geolocation",
                    "gyroscope",
                ),
                *("magnetometer", "midi", "payment", "picture-in-picture", "usb", "xr-spatial-tracking"),
            )
        ),
    )
)


class HeadersMiddleware:
    """No answer to a person who is signed in is kept by a browser or a proxy.

    On a shared laptop "back" after signing out would otherwise show pages of students, from the page cache of
    today's browsers as well. What a student's own service worker keeps for a dead network is its own affair
    (`submissions.working.offline`). A session's cookie is enough to tell: no row is read for it.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Permissions-Policy", PERMISSIONS)
        if settings.SESSION_COOKIE_NAME in request.COOKIES:
            patch_cache_control(response, private=True, no_store=True)
        return response
