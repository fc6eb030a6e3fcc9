"""The list of who was erased, kept outside the database: a restored backup erases them once more.

Each erasure is one small file in the storage "erasures", named by the random key that the student's
membership had; nothing in it tells who that was. Files are added and never changed or deleted. The row
`Erasure` is made in the transaction that erases, and the file after it, so that neither a storage that is
away nor a crash in between erases somebody without a note, or notes somebody who is still here.
"""

import json
import logging
from collections.abc import Collection, Iterator
from datetime import datetime
from uuid import UUID

from django.core.files.base import ContentFile
from django.core.files.storage import Storage, storages

from bandroom.people.models import Erasure, Membership
from bandroom.people.services.families import erase_student

logger = logging.getLogger(__name__)


def write_notes(*, at: datetime) -> int:
    """Write down outside what is not there yet; returns how many. Safe to call at any time."""
    storage = storages["erasures"]
    written = 0
    for erasure in Erasure.objects.filter(noted_at=None):
        if not storage.exists(erasure.key.hex):
            content = json.dumps({"erased_at": erasure.erased_at.isoformat()})
            storage.save(erasure.key.hex, ContentFile(content.encode()))
        written += Erasure.objects.filter(pk=erasure.pk).update(noted_at=at)
    return written


def write_notes_if_possible(*, at: datetime) -> None:
    """As `write_notes`, for who waits for an answer: the worker writes what a storage that is away left."""
    try:
        write_notes(at=at)
    except Exception:
        # Each storage fails in its own way.
        logger.exception("An erasure could not be written down outside the database; it comes again")


def keys_in(storage: Storage) -> Iterator[UUID]:
    """Who was erased, by the notes in a storage; what is no note is passed over."""
    try:
        names = storage.listdir("")[1]
    except FileNotFoundError:
        return
    for name in names:
        try:
            yield UUID(hex=name)
        except ValueError:
            continue


def erase_again(*, keys: Collection[UUID], at: datetime) -> int:
    """Erase whoever of these is here, as after an older database was put back; returns how many."""
    wanted = set(keys) | set(Erasure.objects.values_list("key", flat=True))
    # By key in Python: a list of years is longer than a database takes as parameters.
    back = [pk for pk, key in Membership.objects.values_list("pk", "key") if key in wanted]
    for membership in Membership.objects.select_related("band", "user").filter(pk__in=back).iterator():
        erase_student(membership=membership, at=at)
    return len(back)
