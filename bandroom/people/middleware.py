"""Which band a request is about, and as what."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils.functional import SimpleLazyObject

from bandroom.people.models import Membership

CHOSEN_BAND = "band"


def current_membership(request: HttpRequest) -> Membership | None:
    """The band chosen in this session, else the first the person belongs to; None for a visitor."""
    if not request.user.is_authenticated:
        return None
    memberships = list(
        Membership.objects.filter(user=request.user, ended_at__isnull=True)
        .select_related("band")
        .order_by("pk")
    )
    chosen = request.session.get(CHOSEN_BAND)
    return next((m for m in memberships if m.band_id == chosen), memberships[0] if memberships else None)


class MembershipMiddleware:
    """Sets `request.membership`, looked up once and only if a view or template asks."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.membership = SimpleLazyObject(lambda: current_membership(request))  # type: ignore[attr-defined]
        return self.get_response(request)
