"""Where recordings lie: the takes storage, on a disk or in a bucket, and nowhere else.

Any machine of the school reaches it, so no step of a take needs the machine of the step before. What a
take gathers while it arrives stands in a folder of its own: whatever was written and never counted is
found there and goes with the rest. No recording outlives its row: whatever deletes a take deletes its files.
"""

import contextlib
import errno
import hashlib
import os
import secrets
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import IO, Any
from uuid import UUID

from django.core.files import File
from django.core.files.storage import storages
from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from bandroom import room
from submissions.models import Take
from submissions.takes.refusals import NoRoom, StorageAway, TakeRefused

READ_AT_ONCE = 1024 * 1024
FULL = {errno.ENOSPC, errno.EDQUOT}
NO_ROOM = gettext_noop(
    "The school's computer has no room left; your recording is kept here and will be sent later."
)
AWAY = gettext_noop(
    "The school's computer cannot store recordings just now; yours is kept here and will be sent later."
)


def random_name() -> str:
    """A name that tells nothing; two letters of folder keep folders small."""
    name = secrets.token_hex(16)
    return f"{name[:2]}/{name}"


def piece_name(take_pk: UUID, *, start: int) -> str:
    return f"{_folder(take_pk)}/{start:012d}-{secrets.token_hex(8)}"


def whole_name(take_pk: UUID) -> str:
    return f"{_folder(take_pk)}/whole-{secrets.token_hex(16)}"


def save(name: str, content: "File[bytes]") -> None:
    check_room()
    with answering():
        storages["takes"].save(name, content)


def check_room() -> None:
    """Raises NoRoom while what is left on the disk is for the database alone; each piece has a row there."""
    if room.is_short():
        raise NoRoom(_(NO_ROOM))


def read(name: str) -> Iterator[bytes]:
    """What is stored under `name`, a part at a time; raises FileNotFoundError where nothing is."""
    with answering(), contextlib.closing(_opened(name)) as file:
        while part := file.read(READ_AT_ONCE):
            yield part


def _opened(name: str) -> IO[bytes]:
    """Of a bucket by one request, where the storage's own file asks three times."""
    storage = storages["takes"]
    if not hasattr(storage, "bucket"):
        return storage.open(name, "rb")
    try:
        body: IO[bytes] = storage.bucket.Object(name).get()["Body"]
    except storage.bucket.meta.client.exceptions.NoSuchKey:
        raise FileNotFoundError(name) from None
    return body


def delete(names: Iterable[str]) -> None:
    with answering():
        for name in names:
            storages["takes"].delete(name)


def to_disk(name: str) -> None:
    """Wait until the disk has a stored file and its way there; object storage answers only then."""
    storage = storages["takes"]
    try:
        path, root = Path(storage.path(name)), Path(storage.path(""))
    except NotImplementedError:
        return
    with answering():
        for place in (path, *path.relative_to(root).parents):
            descriptor = os.open(root / place, os.O_RDONLY)
            try:
                os.fsync(descriptor)
            finally:
                os.close(descriptor)


def clear_arrival(take_pk: UUID, *, but: str = "") -> None:
    """Delete all that gathered while the take arrived, counted or not, but the file named `but`."""
    folder = _folder(take_pk)
    with answering():
        try:
            found = storages["takes"].listdir(folder)[1]
        except FileNotFoundError:
            return
        delete(name for file in found if (name := f"{folder}/{file}") != but)
        if not but:
            with contextlib.suppress(OSError):  # a disk has folders; a bucket has none
                storages["takes"].delete(folder)


def file_names(take: Take) -> tuple[str, ...]:
    """What is played of a take, and what it was made from."""
    return tuple(name for name in (take.original, take.served) if name)


def delete_files(take: Take) -> None:
    """Everything that holds the take's sound: the original, the served copy and bytes still arriving."""
    delete(file_names(take))
    clear_arrival(take.pk)


def delete_files_with_row(sender: type[Take], instance: Take, **_: Any) -> None:
    """After a row is gone for good (a student, a section or a band was deleted), its files go as well."""
    pk, names = instance.pk, file_names(instance)

    def delete_them() -> None:
        delete(names)
        clear_arrival(pk)

    transaction.on_commit(delete_them, robust=True)


@contextlib.contextmanager
def answering() -> Iterator[None]:
    """Whatever a storage raises becomes NoRoom or StorageAway; only a missing file stays what it is."""
    try:
        yield
    except (TakeRefused, FileNotFoundError):
        raise
    except Exception as error:
        if isinstance(error, OSError) and error.errno in FULL:
            raise NoRoom(_(NO_ROOM)) from error
        raise StorageAway(_(AWAY)) from error


def _folder(take_pk: UUID) -> str:
    """Found again from the take; the take is not found from it."""
    name = hashlib.sha256(take_pk.bytes).hexdigest()[:32]
    return f"{name[:2]}/{name}"
