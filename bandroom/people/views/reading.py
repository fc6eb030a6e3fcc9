"""The switches for roomy letters and strong contrast."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_POST

from bandroom.people.access import next_address
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
    response = redirect(next_address(request) or settings.LOGIN_REDIRECT_URL)
    remember(response, request=request, chosen=chosen)
    return response
