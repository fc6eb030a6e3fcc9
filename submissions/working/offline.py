"""A student's pages without a network: what the service worker may keep, for whom, and until when.

The worker keeps an answer only where this server says so in a header, and names the student it was made
for: a sign-in page, a hotel's Wi-Fi page, an error or a page for staff has no such header. What is kept is
kept under that student and is forgotten when somebody signs in or out, or when a page of another student
comes by. Where the sign-in ends with the browser, as on a shared laptop, so does what is kept.
"""

import hashlib
import json
import re
from collections.abc import Callable, Iterator
from fnmatch import fnmatch
from functools import cache, wraps
from pathlib import Path
from typing import Concatenate

from django.conf import settings
from django.contrib.staticfiles import finders
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils.translation import activate
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

# Named in offline_worker.js as well.
STUDENT_HEADER = "Bandroom-Student"
SHARED_HEADER = "Bandroom-Shared"
KEEPING_HEADER = "Bandroom-Keeping"
# What a student's pages are built of. Whatever else such a page asks for is kept when it was asked for.
PARTS = (
    "bandroom/css/*",
    "bandroom/js/*",
    "bandroom/fonts/*.woff2",
    "bandroom/icons/*.svg",
    "submissions/css/work.css",
    "submissions/css/steps.css",
    "submissions/css/recorder.css",
    *(
        f"submissions/js/{name}.js"
        for name in (
            *("my_work", "work", "record", "offline", "words"),
            *("store", "sha256", "upload", "turnin", "strip"),
            *("answer", "choices", "closing", "leaving"),
        )
    ),
    "submissions/js/recording/*.js",
    "submissions/js/steps/*.js",
    "exercises/js/note_buttons.js",
)
WORKER = "submissions/js/offline_worker.js"

type Page[**P] = Callable[Concatenate[HttpRequest, P], HttpResponse]


def kept_offline[**P](view: Page[P]) -> Page[P]:
    """For a student's own page, inside `signed_in`: the service worker may keep it, the browser itself not.

    Without no-store, "back" after signing out would show the page once more.
    """

    @wraps(view)
    def marked(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        response = view(request, *args, **kwargs)
        response["Cache-Control"] = "private, no-store"
        if response.status_code == 200:
            response[STUDENT_HEADER] = str(request.user.pk)
            if request.session.get_expire_at_browser_close():
                response[SHARED_HEADER] = "yes"
        return response

    return marked


def is_only_kept(request: HttpRequest) -> bool:
    """Whether the page goes into the worker's cache and before nobody's eyes yet."""
    return KEEPING_HEADER in request.headers


@require_safe
@never_cache
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker of the whole site: its orders, then its code. Both change with every release."""
    body = f"self.ORDERS = {json.dumps(_orders())};\nimportScripts({json.dumps(static(WORKER))});\n"
    return HttpResponse(body, content_type="text/javascript; charset=utf-8")


@require_safe
def not_here(request: HttpRequest, language: str) -> HttpResponse:
    """Shown without a network in place of a page that was not kept. Fetched without anybody's cookies."""
    if language not in dict(settings.LANGUAGES):
        raise Http404
    activate(language)  # for the answer's headers too
    return render(request, "submissions/working/not_here.html")


def _orders() -> dict[str, object]:
    work = reverse("submissions:my-work")
    return {
        "release": _release(),
        "parts": [static(name) for name in part_names()],
        "hashed": static(WORKER) != settings.STATIC_URL + WORKER,
        "statics": settings.STATIC_URL,
        "home": reverse("home"),
        "work": work,
        "pages": rf"^{re.escape(work)}(\d+/(record/\w+/|steps/\w+/(\?line=\w)?)?)?$",
        "doors": [reverse(f"people:{name}") for name in ("sign-in", "sign-in-staff", "sign-out")],
        "language": reverse("set-language"),
        "notHere": {code: reverse("submissions:not-here", args=[code]) for code, _name in settings.LANGUAGES},
    }


def part_names() -> list[str]:
    return sorted(name for name, _path in _parts())


def _parts() -> Iterator[tuple[str, Path]]:
    for finder in finders.get_finders():
        for name, storage in finder.list(None):
            if name != WORKER and any(fnmatch(name, pattern) for pattern in PARTS):
                yield name, Path(storage.path(name))


@cache
def _release() -> str:
    """Another one as soon as any part has another content."""
    digest = hashlib.sha256()
    for name, path in sorted(_parts()):
        digest.update(name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:16]
