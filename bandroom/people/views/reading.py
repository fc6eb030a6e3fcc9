"""The switches for roomy letters and strong contrast."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from bandroom.people.reading import Setting, remember, settings_of


@require_POST
def set_reading(request: HttpRequest) -> HttpResponse:
    """For whoever is at the door or signed in: `roomy=on` or `strong=off`, then back to where they were."""
    chosen = set(settings_of(request))
    for setting in Setting:
        match request.POST.get(setting):
            case "on":
                chosen.add(setting)
            case "off":
                chosen.discard(setting)
    target = request.POST.get("next", "")
    safe = url_has_allowed_host_and_scheme(
        target, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    response = redirect(target if safe else settings.LOGIN_REDIRECT_URL)
    remember(response, request=request, chosen=chosen)
    return response
