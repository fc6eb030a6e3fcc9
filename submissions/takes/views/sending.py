"""tus 1.0, the open protocol of resumable uploads (core, creation, expiration), for announced takes.

An upload is a take that was declared before, so it has its owner, its size and its hash. Protocol:
https://tus.io/protocols/resumable-upload
"""

import base64
import binascii
import contextlib
from datetime import UTC, datetime, timedelta
from uuid import UUID

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse, UnreadablePostError
from django.urls import reverse
from django.utils.http import http_date
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from bandroom.people.access import signed_in, student_or_404
from submissions.models import Take
from submissions.takes.queries import own_take_or_none
from submissions.takes.refusals import (
    BadHeader,
    LengthRequired,
    NotAllowed,
    TooBig,
    WrongType,
    WrongVersion,
)
from submissions.takes.services import arrival
from submissions.takes.tasks import queue_preparing
from submissions.takes.views.answers import plainly

VERSION = "1.0.0"
EXTENSIONS = "creation,expiration"
CHUNK_TYPE = "application/offset+octet-stream"


@require_http_methods(["OPTIONS", "POST"])
@signed_in
@plainly
def uploads(request: HttpRequest) -> HttpResponse:
    """What this server can do; and where the upload of a declared take goes."""
    student_or_404(request)
    if request.method == "OPTIONS":
        return _tus(HttpResponse(status=204))
    _check_version(request)
    take = _own_take_or_404(request, _take_named(request))
    if _whole_number(request, "Upload-Length") != take.declared_bytes:
        raise BadHeader(_("Another length was announced for this recording; send it as new."))
    response = _tus(HttpResponse(status=201))
    response["Location"] = reverse("submissions:upload", args=[take.pk])
    return _expires(response, at=now())


@require_http_methods(["OPTIONS", "HEAD", "PATCH"])
@signed_in
@plainly
def upload(request: HttpRequest, take_pk: UUID) -> HttpResponse:
    """How far an upload is; and more of it."""
    take = _own_take_or_404(request, take_pk)
    if request.method == "OPTIONS":
        return _tus(HttpResponse(status=204))
    _check_version(request)
    if request.method == "PATCH":
        offset = _take_in(request, take)
        response = HttpResponse(status=204)
    else:
        offset = arrival.offset_of(take)
        response = HttpResponse(status=200)
        response["Upload-Length"] = str(take.declared_bytes)
    response["Upload-Offset"] = str(offset)
    return _expires(_tus(response), at=now()) if offset < take.declared_bytes else _tus(response)


def _take_in(request: HttpRequest, take: Take) -> int:
    """Write the body as it comes, piece by piece; what arrived before a line broke counts."""
    if not student_or_404(request).may_record:
        raise NotAllowed(_("Your school has not agreed to recordings of you; book a check-in instead."))
    if request.content_type != CHUNK_TYPE:
        raise WrongType(_("This is not a piece of a recording; load the page again and go on."))
    if "Content-Length" not in request.headers:
        raise LengthRequired(_("This piece did not say how long it is; load the page again and go on."))
    left = _whole_number(request, "Content-Length")
    offset = _whole_number(request, "Upload-Offset")
    if left > take.declared_bytes:
        raise TooBig(_("This is more than was announced; send the file again."))
    # Also for an empty body: it must stand where the upload stands.
    arrival.check_place(take, offset=offset, length=left)
    with contextlib.suppress(UnreadablePostError):
        while left and (piece := request.read(min(left, arrival.PIECE_BYTES))):
            offset = arrival.append(take_pk=take.pk, offset=offset, piece=piece, at=now())
            left -= len(piece)
    if offset == take.declared_bytes:
        arrival.finish(take_pk=take.pk, at=now(), queue=queue_preparing)
    return offset


def _own_take_or_404(request: HttpRequest, take_pk: UUID | None) -> Take:
    membership = student_or_404(request)
    take = own_take_or_none(membership=membership, pk=take_pk) if take_pk else None
    if take is None or take.state == Take.State.DELETED:
        raise Http404
    return take


def _check_version(request: HttpRequest) -> None:
    if request.headers.get("Tus-Resumable") != VERSION:
        raise WrongVersion(_("This program sends in another way than this server; load the page again."))


def _whole_number(request: HttpRequest, name: str) -> int:
    value = request.headers.get(name, "")
    if not (value.isascii() and value.isdecimal() and len(value) < 17):
        raise BadHeader(_("The header “%(name)s” is missing or no whole number.") % {"name": name})
    return int(value)


def _take_named(request: HttpRequest) -> UUID | None:
    """The take in Upload-Metadata; whatever else stands there, a file's name above all, is not read."""
    for entry in request.headers.get("Upload-Metadata", "").split(","):
        key, _space, value = entry.strip().partition(" ")
        if key == "take":
            try:
                return UUID(base64.b64decode(value, validate=True).decode("ascii"))
            except (binascii.Error, ValueError):
                return None
    return None


def _tus(response: HttpResponse) -> HttpResponse:
    response["Tus-Resumable"] = VERSION
    response["Tus-Version"] = VERSION
    response["Tus-Extension"] = EXTENSIONS
    response["Tus-Max-Size"] = str(settings.TAKE_MAX_BYTES)
    response["Cache-Control"] = "no-store"
    return response


def _expires(response: HttpResponse, *, at: datetime) -> HttpResponse:
    until = at + timedelta(days=settings.UPLOAD_KEEP_DAYS)
    response["Upload-Expires"] = http_date(until.astimezone(UTC).timestamp())
    return response
