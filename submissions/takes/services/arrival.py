"""The bytes of a declared take arrive, in pieces, over lines that break.

Each piece is written and counted in one short transaction that locks the take's row, so two tabs cannot
mix their bytes and a slow phone holds no lock while it sends. The file is trusted only when the SHA-256
of what lies on the disk is the declared one; until then the phone keeps its copy.
"""

import errno
import hashlib
import logging
import os
import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from uuid import UUID

from django.conf import settings
from django.core.files import File
from django.core.files.storage import Storage, storages
from django.db import connection, transaction
from django.db.models import F, Q
from django.utils.translation import gettext as _

from submissions.models import Take
from submissions.takes.refusals import NoRoom, TakeRefused, WrongOffset

logger = logging.getLogger(__name__)

type Queue = Callable[[Take], None]

PIECE_BYTES = 256 * 1024
HASHED_AT_ONCE = 1024 * 1024
# Hashing and storing the largest file takes seconds; whoever holds a file longer has died.
CHECKING_FOR = timedelta(minutes=2)
# When to look whether work that was queued is still waiting.
LOOK_AGAIN = timedelta(minutes=10)
FULL = {errno.ENOSPC, errno.EDQUOT}


def upload_path(take_pk: UUID) -> Path:
    """Where a take's bytes gather until they are complete."""
    return Path(settings.UPLOAD_DIR) / take_pk.hex


def receipt(take: Take) -> str | None:
    """The SHA-256 the server computed over the whole file, None as long as it has not."""
    return take.declared_sha256 if take.received_at is not None else None


def random_name() -> str:
    """A name in the takes storage that tells nothing; two letters of folder keep folders small."""
    name = secrets.token_hex(16)
    return f"{name[:2]}/{name}"


@transaction.atomic
def offset_of(*, take_pk: UUID) -> int:
    """How many bytes are safely here, set back where the disk has fewer than the row says."""
    take = _locked(take_pk)
    if take.state != Take.State.DECLARED:
        return take.declared_bytes
    here = _bytes_here(take_pk)
    if here < take.received_bytes and not _is_being_checked(take):
        take.received_bytes = here
        take.save(update_fields=["received_bytes"])
    return take.received_bytes


@transaction.atomic
def append(*, take_pk: UUID, offset: int, piece: bytes) -> int:
    """Write one piece where the bytes so far end; returns the new end.

    Raises WrongOffset where it would leave a hole, write over counted bytes or pass the declared end,
    and NoRoom on a full disk; then nothing of the piece counts.
    """
    take = _locked(take_pk)
    if take.state != Take.State.DECLARED or take.received_bytes != offset:
        whole = take.state != Take.State.DECLARED
        raise WrongOffset(
            _("These bytes are here already; go on where the school's computer stands."),
            offset=take.declared_bytes if whole else take.received_bytes,
        )
    if offset + len(piece) > take.declared_bytes:
        raise WrongOffset(_("This is more than was announced; send the file again."), offset=offset)
    if piece:
        _write(upload_path(take_pk), offset=offset, piece=piece)
        take.received_bytes = offset + len(piece)
        take.save(update_fields=["received_bytes"])
    return take.received_bytes


def finish(*, take_pk: UUID, at: datetime, queue: Queue) -> bool:
    """Check a complete file against its declaration and store it; True once it is safely here.

    Safe to call at any time and by several at once: one does the work. `queue` is called in the
    transaction that makes the take RECEIVED. Raises WrongOffset, and starts over at zero, where the
    bytes are not those that were declared.
    """
    claimed = (
        Take.objects.filter(pk=take_pk, state=Take.State.DECLARED, received_bytes=F("declared_bytes"))
        .filter(Q(lease_until__isnull=True) | Q(lease_until__lt=at))
        .update(lease_until=at + CHECKING_FOR)
    )
    take = Take.objects.get(pk=take_pk)
    if not claimed:
        return take.received_at is not None
    try:
        _check_and_store(take=take, at=at, queue=queue)
    except BaseException as error:
        Take.objects.filter(pk=take_pk, state=Take.State.DECLARED).update(lease_until=None)
        if isinstance(error, OSError):
            raise _plain(error) from error
        raise
    return True


def finish_if_possible(*, take_pk: UUID, at: datetime, queue: Queue) -> bool:
    """As `finish`, for a sweep: nobody is there to be told why not, and the phone will ask again."""
    try:
        return finish(take_pk=take_pk, at=at, queue=queue)
    except TakeRefused as refused:
        logger.info("Take %s is not complete: %s", take_pk, refused)
        return False


def _check_and_store(*, take: Take, at: datetime, queue: Queue) -> None:
    path = upload_path(take.pk)
    storage = storages["takes"]
    if take.original:  # an earlier attempt ended half-way
        storage.delete(take.original)
    if not path.exists() or _sha256(path) != take.declared_sha256:
        _start_over(take)
        raise WrongOffset(_("The file changed on its way; it is being sent again from the start."), offset=0)
    # The name is on record before the file is there: nothing is ever stored that no row knows.
    take.original = random_name()
    take.save(update_fields=["original"])
    with path.open("rb") as file:
        storage.save(take.original, File(file))
    _to_disk(storage, take.original)
    with durably(), transaction.atomic():
        moved = Take.objects.filter(pk=take.pk, state=Take.State.DECLARED, original=take.original).update(
            state=Take.State.RECEIVED, received_at=at, lease_until=at + LOOK_AGAIN
        )
        if moved:
            take.refresh_from_db()
            queue(take)
    if moved:
        path.unlink(missing_ok=True)
    else:  # whoever took over after our lease ran out stored it under another name
        storage.delete(take.original)


@contextmanager
def durably() -> Iterator[None]:
    """A commit inside is on the disk when it returns, also if the power fails in the next moment.

    After a receipt the phone lets go of its copy. PostgreSQL commits so by itself; SQLite, as it is set
    here, may lose its last moments, which elsewhere costs nothing.
    """
    if connection.vendor != "sqlite" or connection.in_atomic_block:
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA synchronous=FULL")
        try:
            yield
        finally:
            cursor.execute("PRAGMA synchronous=NORMAL")


def _to_disk(storage: Storage, name: str) -> None:
    """Wait until the disk has a stored file and its entry in the folder; object storage answers only then."""
    try:
        path = Path(storage.path(name))
    except NotImplementedError:
        return
    for place in (path, path.parent):
        descriptor = os.open(place, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _start_over(take: Take) -> None:
    upload_path(take.pk).unlink(missing_ok=True)
    Take.objects.filter(pk=take.pk, state=Take.State.DECLARED).update(received_bytes=0, original="")


def _locked(take_pk: UUID) -> Take:
    return Take.objects.select_for_update(of=("self",)).get(pk=take_pk)


def _is_being_checked(take: Take) -> bool:
    return take.lease_until is not None


def _bytes_here(take_pk: UUID) -> int:
    try:
        return upload_path(take_pk).stat().st_size
    except FileNotFoundError:
        return 0


def _write(path: Path, *, offset: int, piece: bytes) -> None:
    """Write at `offset`, over whatever an attempt that never counted left there."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT, 0o600)
        try:
            view = memoryview(piece)
            while view:
                written = os.pwrite(descriptor, view, offset)
                offset, view = offset + written, view[written:]
        finally:
            os.close(descriptor)
    except OSError as error:
        raise _plain(error) from error


def _sha256(path: Path) -> str:
    """Of what is on the disk, after the disk itself confirmed to have it."""
    digest = hashlib.sha256()
    with path.open("rb") as file:
        os.fsync(file.fileno())
        while piece := file.read(HASHED_AT_ONCE):
            digest.update(piece)
    return digest.hexdigest()


def _plain(error: OSError) -> TakeRefused | OSError:
    if error.errno in FULL:
        return NoRoom(
            _("The school's computer has no room left; your recording is kept here and will be sent later.")
        )
    return error
