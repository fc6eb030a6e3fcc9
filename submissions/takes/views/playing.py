"""A take is played: to its student and the band's staff alone, in pieces, so that a player can seek."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from typing import IO
from urllib.parse import quote
from uuid import UUID

from django.conf import settings
from django.core.files.storage import storages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.utils.text import slugify
from django.utils.timezone import now
from django.views.decorators.http import require_safe

from bandroom.people.access import membership_or_404, signed_in, staff_or_404
from submissions.models import Take
from submissions.preparing.signatures import HEAD_BYTES, kind_of
from submissions.takes import files
from submissions.takes.listen_log import log_listen
from submissions.takes.queries import heard_by
from submissions.takes.ranges import ByteRange, Unsatisfiable, read_range
from submissions.takes.views.answers import plainly

SENT_AT_ONCE = 64 * 1024
# Long enough to play a take to its end, too short to be passed on.
ADDRESS_VALID = timedelta(minutes=20)


@require_safe
@signed_in
@plainly
def sound(request: HttpRequest, take_pk: UUID) -> HttpResponseBase:
    """The served copy of a take. Each listen of an adult is logged; a HEAD request is none."""
    membership = membership_or_404(request)
    take = heard_by(membership).filter(pk=take_pk, state=Take.State.READY).first()
    if take is None:
        raise Http404
    if membership.is_staff and request.method == "GET":
        log_listen(take=take, listener=membership.user, at=now())
    copy = Kept(name=take.served, media_type=take.served_type, size=take.served_bytes)
    return _handed_out(request, copy, disposition='inline; filename="take"')


@require_safe
@signed_in
@plainly
def original(request: HttpRequest, take_pk: UUID) -> HttpResponseBase:
    """What was received of a take that could not be prepared, as it came: for the band's staff alone.

    A phone may have written a place into it, so no student is given it.
    """
    membership = staff_or_404(request)
    take = heard_by(membership).filter(pk=take_pk, state=Take.State.REFUSED).exclude(original="").first()
    if take is None:
        raise Http404
    if request.method == "GET":
        log_listen(take=take, listener=membership.user, at=now())
    kind = _claimed_kind(take.original) or "application/octet-stream"
    came = Kept(name=take.original, media_type=kind, size=take.declared_bytes)
    name = f"take-{take.seat.student.first_name}-{'-'.join(take.lines)}".encode("ascii", "ignore").decode()
    return _handed_out(request, came, disposition=f'attachment; filename="{slugify(name)}"')


@dataclass(frozen=True, slots=True)
class Kept:
    """A file of the takes storage, as it is handed out."""

    name: str
    media_type: str
    size: int


def _claimed_kind(name: str) -> str | None:
    try:
        with files.answering(), storages["takes"].open(name, "rb") as file:
            return kind_of(file.read(HEAD_BYTES))
    except FileNotFoundError:
        raise Http404 from None


def _handed_out(request: HttpRequest, kept: Kept, *, disposition: str) -> HttpResponseBase:
    match settings.TAKES_DELIVERY:
        case "x-accel":
            response: HttpResponseBase = HttpResponse(content_type=kept.media_type)
            response["X-Accel-Redirect"] = settings.TAKES_ACCEL_PREFIX + quote(kept.name)
        case "redirect":
            response = HttpResponse(status=302)
            response["Location"] = _signed_address(kept, disposition=disposition)
        case _:
            response = _in_pieces(request, kept)
    response["Cache-Control"] = "private, no-store"
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Disposition"] = disposition
    return response


def _in_pieces(request: HttpRequest, kept: Kept) -> HttpResponseBase:
    """RFC 9110: whole, one range (206), not changed (304) or not satisfiable (416)."""
    # A stored file never changes under its name.
    etag = f'"{kept.name.rpartition("/")[2]}"'
    size = kept.size
    response: HttpResponseBase
    if etag in _listed(request.headers.get("If-None-Match", "")):
        response = HttpResponse(status=304)
    else:
        fresh = request.headers.get("If-Range", etag) == etag
        try:
            part = read_range(request.headers.get("Range"), size=size) if fresh else None
            response = _bytes(request, kept, part)
        except Unsatisfiable:
            response = HttpResponse(status=416)
            response["Content-Range"] = f"bytes */{size}"
    response["ETag"] = etag
    response["Accept-Ranges"] = "bytes"
    return response


def _bytes(request: HttpRequest, kept: Kept, part: ByteRange | None) -> HttpResponseBase:
    whole = ByteRange(0, kept.size - 1)
    wanted = part or whole
    if request.method == "HEAD":
        response: HttpResponseBase = HttpResponse(content_type=kept.media_type)
    else:
        try:
            with files.answering():
                file = storages["takes"].open(kept.name, "rb")
        except FileNotFoundError:
            raise Http404 from None
        response = StreamingHttpResponse(_read(file, wanted), content_type=kept.media_type)
        response._resource_closers.append(file.close)  # type: ignore[attr-defined]  # as FileResponse does
    response.status_code = 206 if part and request.method == "GET" else 200
    response["Content-Length"] = str(wanted.length if response.status_code == 206 else whole.length)
    if response.status_code == 206:
        response["Content-Range"] = wanted.content_range(kept.size)
    return response


def _read(file: IO[bytes], part: ByteRange) -> Iterator[bytes]:
    file.seek(part.first)
    left = part.length
    while left and (piece := file.read(min(left, SENT_AT_ONCE))):
        left -= len(piece)
        yield piece


def _listed(header: str) -> set[str]:
    return {entry.strip().removeprefix("W/") for entry in header.split(",")}


def _signed_address(kept: Kept, *, disposition: str) -> str:
    """An address in the object storage that ends by itself; the type and name of the answer are ours."""
    parameters = {
        "ResponseContentType": kept.media_type,
        "ResponseCacheControl": "private, no-store",
        "ResponseContentDisposition": disposition,
    }
    storage = storages["takes"]
    return str(storage.url(kept.name, parameters=parameters, expire=int(ADDRESS_VALID.total_seconds())))  # type: ignore[call-arg]  # S3Storage's own signature
