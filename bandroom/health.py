"""For whoever watches the server: whether this process lives, and whether all that it needs is there."""

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils.timezone import now
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from submissions.upkeep.readiness import readiness


@require_safe
@never_cache
def alive(request: HttpRequest) -> HttpResponse:
    """For anybody: this process answers. It asks nothing of anything else."""
    return JsonResponse({"alive": True})


@require_safe
@never_cache
def ready(request: HttpRequest) -> HttpResponse:
    """For anybody: yes or no for each thing that is needed, and 503 where one says no."""
    told = readiness(at=now())
    return JsonResponse({"ready": all(told.values()), **told}, status=200 if all(told.values()) else 503)
