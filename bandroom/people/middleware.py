"""Which band a request is about, and as what; and in which language it is answered."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import translation
from django.utils.cache import patch_vary_headers
from django.utils.functional import SimpleLazyObject

from bandroom.people.models import Membership

CHOSEN_BAND = "band"
#: The language of everything that only staff read.
STAFF_LANGUAGE = "en"


def memberships_of(request: HttpRequest) -> list[Membership]:
    """All bands the person belongs to today, the oldest membership first; none for a visitor."""
    if not request.user.is_authenticated:
        return []
    return list(
        Membership.objects.filter(user=request.user, ended_at__isnull=True)
        .select_related("band")
        .order_by("pk")
    )


def current_membership(request: HttpRequest) -> Membership | None:
    """The band chosen in this session, else the first the person belongs to; None for a visitor."""
    memberships: list[Membership] = request.memberships  # type: ignore[attr-defined]
    if not memberships:
        return None
    chosen = request.session.get(CHOSEN_BAND)
    return next((m for m in memberships if m.band_id == chosen), memberships[0])


class MembershipMiddleware:
    """Sets `request.memberships` and, of these, `request.membership`: looked up once, only if asked for."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.memberships = SimpleLazyObject(lambda: memberships_of(request))  # type: ignore[attr-defined]
        request.membership = SimpleLazyObject(lambda: current_membership(request))  # type: ignore[attr-defined]
        return self.get_response(request)


class StaffLanguageMiddleware:
    """Pages of staff are in English, whatever the browser or the switch on a student's page asks for.

    Behind LocaleMiddleware, which has read the switch's cookie and what the browser asks for.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if translation.get_language() != STAFF_LANGUAGE:
            membership: Membership | None = request.membership  # type: ignore[attr-defined]
            if membership and membership.is_staff:
                translation.activate(STAFF_LANGUAGE)
        response = self.get_response(request)
        patch_vary_headers(response, ("Cookie",))
        return response
