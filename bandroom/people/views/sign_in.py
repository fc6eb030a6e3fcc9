"""Into the room and out of it."""

from urllib.parse import urlencode

from django import forms
from django.conf import settings
from django.contrib.auth import authenticate, login, logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from bandroom.people import throttle
from bandroom.people.access import next_address
from bandroom.people.forms.sign_in import StaffSignInForm, StudentSignInForm
from bandroom.people.models import Band, Membership
from bandroom.people.reading import forget
from bandroom.people.seated import SeatedSection, SeatedStudent
from bandroom.people.signing_in import too_soon

# The band that anyone may see at the door: chairs of no band in particular.
CHAIRS = (
    (gettext_noop("Flute"), 6),
    (gettext_noop("Clarinet"), 9),
    (gettext_noop("Oboe"), 3),
    (gettext_noop("Alto sax"), 6),
    (gettext_noop("Tenor sax"), 2),
    (gettext_noop("Bari sax"), 1),
    (gettext_noop("Bassoon"), 1),
    (gettext_noop("Horn"), 4),
    (gettext_noop("Trumpet"), 8),
    (gettext_noop("Trombone"), 5),
    (gettext_noop("Baritone"), 3),
    (gettext_noop("Tuba"), 2),
    (gettext_noop("Bells"), 4),
)
NOBODY = SeatedStudent(first_name="", says="", state="not_yet", href="")
NOT_STUDENT = gettext_noop(
    "This name-id and these words do not fit together. Look at your card and try once more."
)
NOT_STAFF = gettext_noop("This address and this password do not fit together. Try once more.")
IN_NO_BAND = gettext_noop("You are in no band any more. Ask your director.")


@never_cache
@sensitive_post_parameters("word_1", "word_2", "word_3")
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """For students: what stands on the card."""
    form = StudentSignInForm(request.POST or None)
    return _door(request, form, template="people/sign_in.html", wrong=NOT_STUDENT)


@never_cache
@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in_staff(request: HttpRequest) -> HttpResponse:
    form = StaffSignInForm(request.POST or None)
    return _door(request, form, template="people/sign_in_staff.html", wrong=NOT_STAFF)


def _door(request: HttpRequest, form: forms.Form, *, template: str, wrong: str) -> HttpResponse:
    target = next_address(request)
    if request.method != "POST" and request.membership:  # type: ignore[attr-defined]
        return redirect(target or resolve_url(settings.LOGIN_REDIRECT_URL))
    if form.is_valid():
        said, at = form.cleaned_data, now()
        name: str = said["username"]
        if wait := throttle.wait(request, name=name, at=at):
            return too_soon(request, wait=wait)
        user = authenticate(request, username=name, password=said["password"])
        if user is None:
            throttle.note_wrong(request, name=name, at=at)
            form.add_error(None, _(wrong))
        elif not Membership.objects.filter(user_id=user.pk, ended_at__isnull=True).exists():
            form.add_error(None, _(IN_NO_BAND))
        else:
            login(request, user)
            request.session.set_expiry(0 if said["shared"] else None)
            throttle.note_right(request, name=name)
            response = redirect(target or resolve_url(settings.LOGIN_REDIRECT_URL))
            if not said["shared"]:
                throttle.remember_browser(request, response, name=name)
            return response
    bands = list(Band.objects.values_list("name", flat=True)[:2])
    return render(
        request,
        template,
        {
            "form": form,
            "next": target,
            "language_back": f"{request.path}?{urlencode({'next': target})}" if target else request.path,
            "title": bands[0] if len(bands) == 1 else "Bandroom",
            "room": [SeatedSection(_(name), [NOBODY] * count) for name, count in CHAIRS],
        },
        status=422 if form.is_bound else 200,
    )


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    is_shared = request.session.get_expire_at_browser_close()
    logout(request)
    response = redirect(settings.LOGOUT_REDIRECT_URL)
    if is_shared:
        forget(response)
    return response
