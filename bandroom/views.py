"""The front door."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_safe

from bandroom.people.access import membership_or_404, signed_in


@require_safe
@signed_in
def home(request: HttpRequest) -> HttpResponse:
    """Each person's first page: the week for staff, their own work for students."""
    membership = membership_or_404(request)
    return redirect("submissions:my-work" if membership.is_student else "submissions:week")
