"""Who may open a page. A view's first line; whoever is not let in gets 404, a visitor the sign-in page."""

from collections.abc import Callable
from functools import wraps
from typing import Concatenate

from django.contrib.auth.views import redirect_to_login
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _

from bandroom.people.models import Membership

type Guarded[**P] = Callable[Concatenate[HttpRequest, P], HttpResponseBase]


def membership_or_404(request: HttpRequest) -> Membership:
    membership: Membership | None = request.membership  # type: ignore[attr-defined]
    if not membership:
        raise Http404
    return membership


def staff_or_404(request: HttpRequest) -> Membership:
    """A director or a substitute: may see and mark."""
    membership = membership_or_404(request)
    if not membership.is_staff:
        raise Http404
    return membership


def director_or_404(request: HttpRequest) -> Membership:
    """A director: may also export, delete and change policy."""
    membership = membership_or_404(request)
    if not membership.is_director:
        raise Http404
    return membership


def student_or_404(request: HttpRequest) -> Membership:
    membership = membership_or_404(request)
    if not membership.is_student:
        raise Http404
    return membership


def signed_in[**P](view: Guarded[P]) -> Guarded[P]:
    """Send a visitor to sign in and back; a scripted request gets 401, for a page to say so plainly."""

    @wraps(view)
    def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
        if request.user.is_authenticated:
            return view(request, *args, **kwargs)
        if request.method not in {"GET", "HEAD"} or request.headers.get("X-Requested-With") == "bandroom":
            return HttpResponse(
                _("Sign in again, then go on where you were."), status=401, content_type="text/plain"
            )
        return redirect_to_login(request.get_full_path())

    return guarded


def next_address(request: HttpRequest) -> str:
    """Where the visitor was going ("next"), if that is on this server; else nothing."""
    target = request.POST.get("next", request.GET.get("next", ""))
    safe = url_has_allowed_host_and_scheme(
        target, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return target if safe else ""
