"""A take is played: to its student and the band's staff alone, in pieces, so that a player can seek."""

from collections.abc import Iterator
from datetime import timedelta
from typing import IO
from urllib.parse import quote
from uuid import UUID

from django.conf import settings
from django.core.files.storage import storages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.utils.timezone import now
from django.views.decorators.http import require_safe

from bandroom.people.access import membership_or_404, signed_in
from submissions.models import Take
from submissions.takes.listen_log import log_listen
from submissions.takes.queries import heard_by
from submissions.takes.ranges import ByteRange, Unsatisfiable, read_range

SENT_AT_ONCE = 64 * 1024
# Long enough to play a take to its end, too short to be passed on.
ADDRESS_VALID = timedelta(minutes=20)


@require_safe
@signed_in
def sound(request: HttpRequest, take_pk: UUID) -> HttpResponseBase:
    """The served copy of a take. Each listen of an adult is logged; a HEAD request is none."""
    membership = membership_or_404(request)
    take = heard_by(membership).filter(pk=take_pk, state=Take.State.READY).first()
    if take is None:
        raise Http404
    if membership.is_staff and request.method == "GET":
        log_listen(take=take, listener=membership.user, at=now())
    match settings.TAKES_DELIVERY:
        case "x-accel":
            response: HttpResponseBase = HttpResponse(content_type=take.served_type)
            response["X-Accel-Redirect"] = settings.TAKES_ACCEL_PREFIX + quote(take.served)
        case "redirect":
            response = HttpResponse(status=302)
            response["Location"] = _signed_address(take)
        case _:
            response = _in_pieces(request, take)
    response["Cache-Control"] = "private, no-store"
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Disposition"] = 'inline; filename="take"'
    return response


def _in_pieces(request: HttpRequest, take: Take) -> HttpResponseBase:
    """RFC 9110: whole, one range (206), not changed (304) or not satisfiable (416)."""
    # A served copy never changes under its name.
    etag = f'"{take.served.rpartition("/")[2]}"'
    size = take.served_bytes
    response: HttpResponseBase
    if etag in _listed(request.headers.get("If-None-Match", "")):
        response = HttpResponse(status=304)
    else:
        fresh = request.headers.get("If-Range", etag) == etag
        try:
            part = read_range(request.headers.get("Range"), size=size) if fresh else None
            response = _bytes(request, take, part)
        except Unsatisfiable:
            response = HttpResponse(status=416)
            response["Content-Range"] = f"bytes */{size}"
    response["ETag"] = etag
    response["Accept-Ranges"] = "bytes"
    return response


def _bytes(request: HttpRequest, take: Take, part: ByteRange | None) -> HttpResponseBase:
    whole = ByteRange(0, take.served_bytes - 1)
    wanted = part or whole
    if request.method == "HEAD":
        response: HttpResponseBase = HttpResponse(content_type=take.served_type)
    else:
        try:
            file = storages["takes"].open(take.served, "rb")
        except FileNotFoundError:
            raise Http404 from None
        response = StreamingHttpResponse(_read(file, wanted), content_type=take.served_type)
        response._resource_closers.append(file.close)  # type: ignore[attr-defined]  # as FileResponse does
    response.status_code = 206 if part and request.method == "GET" else 200
    response["Content-Length"] = str(wanted.length if response.status_code == 206 else whole.length)
    if response.status_code == 206:
        response["Content-Range"] = wanted.content_range(take.served_bytes)
    return response


def _read(file: IO[bytes], part: ByteRange) -> Iterator[bytes]:
    file.seek(part.first)
    left = part.length
    while left and (piece := file.read(min(left, SENT_AT_ONCE))):
        left -= len(piece)
        yield piece


def _listed(header: str) -> set[str]:
    return {entry.strip().removeprefix("W/") for entry in header.split(",")}


def _signed_address(take: Take) -> str:
    """An address in the object storage that ends by itself; the type and name of the answer are ours."""
    parameters = {
        "ResponseContentType": take.served_type,
        "ResponseCacheControl": "private, no-store",
        "ResponseContentDisposition": 'inline; filename="take"',
    }
    storage = storages["takes"]
    return str(storage.url(take.served, parameters=parameters, expire=int(ADDRESS_VALID.total_seconds())))  # type: ignore[call-arg]  # S3Storage's own signature
