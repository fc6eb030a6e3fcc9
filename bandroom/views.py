"""The front door, and the switch of the language."""

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.views import i18n
from django.views.decorators.http import require_POST, require_safe

from bandroom.people.access import membership_or_404, signed_in


@require_safe
@signed_in
def home(request: HttpRequest) -> HttpResponse:
    """Each person's first page: the week for staff, their own work for students."""
    membership = membership_or_404(request)
    return redirect("submissions:my-work" if membership.is_student else "submissions:week")


@require_POST
def set_language(request: HttpRequest) -> HttpResponseBase:
    """At the door or signed in: kept in a cookie of this browser, then back to where they were."""
    return i18n.set_language(request)
