"""What a family may ask for: everything about one student as files, and everything erased.

Other apps keep things about students that this one does not know. They join in by two settings, lists of
dotted names of functions:

    FAMILY_EXPORTERS   exporter(*, band: Band, student: User) -> Iterable[ExportFile]
    FAMILY_ERASERS     eraser(*, band: Band, student: User) -> None

An eraser runs inside the transaction that erases the student, before any row of this app goes; files on a
disk it takes away with `transaction.on_commit`, so that nothing is lost when a later step fails.
"""

import json
import shutil
import tempfile
import zipfile
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from typing import IO, Protocol, cast

from django.conf import settings
from django.db import transaction
from django.utils.module_loading import import_string

from bandroom.people import throttle
from bandroom.people.models import Band, Erasure, Membership, Seat, User
from bandroom.people.queries import seats_ever

# A zip larger than this is put together on the disk instead of in memory.
IN_MEMORY_BYTES = 2 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class ExportFile:
    """One file of an export: its path inside the zip, and how its bytes are opened when its turn comes."""

    path: str
    open: Callable[[], IO[bytes]]

    @classmethod
    def of_bytes(cls, path: str, content: bytes) -> "ExportFile":
        return cls(path=path, open=lambda: BytesIO(content))

    @classmethod
    def of_json(cls, path: str, content: object) -> "ExportFile":
        return cls.of_bytes(path, json.dumps(content, ensure_ascii=False, indent=2).encode())


class Exporter(Protocol):
    def __call__(self, *, band: Band, student: User) -> Iterable[ExportFile]: ...


class Eraser(Protocol):
    def __call__(self, *, band: Band, student: User) -> None: ...


def _own_files(*, membership: Membership) -> Iterator[ExportFile]:
    band, user = membership.band, membership.user
    yield ExportFile.of_json(
        "student.json",
        {
            "band": band.name,
            "school": band.school,
            "first_name": user.first_name,
            "last_name": user.last_name,
            "name_id": user.sign_in_name,
            "recording": membership.get_recording_display(),
            "sign_in_card_printed": membership.card_issued_at
            and band.local(membership.card_issued_at).isoformat(),
            "last_sign_in": user.last_login and band.local(user.last_login).isoformat(),
            "left_the_band": membership.ended_at and band.local(membership.ended_at).isoformat(),
            "seats": [
                {
                    "section": seat.section.name,
                    "class_period": seat.section.period,
                    "instrument": seat.get_instrument_display(),
                    "from": seat.since.isoformat(),
                    "until": seat.until and seat.until.isoformat(),
                }
                for seat in reversed(seats_ever(membership))
            ],
        },
    )


def export_files(*, membership: Membership) -> Iterator[ExportFile]:
    yield from _own_files(membership=membership)
    for name in settings.FAMILY_EXPORTERS:
        exporter = cast(Exporter, import_string(name))
        yield from exporter(band=membership.band, student=membership.user)


def export_zip(*, membership: Membership) -> IO[bytes]:
    """All files in one zip, ready to be read from its start; the caller closes it."""
    result = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY_BYTES)  # noqa: SIM115  handed to the caller
    try:
        with zipfile.ZipFile(result, "w", zipfile.ZIP_DEFLATED) as archive:
            for file in export_files(membership=membership):
                with file.open() as source, archive.open(file.path, "w") as target:
                    shutil.copyfileobj(source, target)
        result.seek(0)
    except BaseException:
        result.close()
        raise
    return cast(IO[bytes], result)


@transaction.atomic
def erase_student(*, membership: Membership, at: datetime) -> None:
    """The student, the seats and everything other apps keep about them in this band are gone for good.

    What stays is a random key, so that a backup of yesterday does not bring them back.
    """
    band, user = membership.band, membership.user
    Erasure.objects.get_or_create(key=membership.key, defaults={"erased_at": at})
    for name in settings.FAMILY_ERASERS:
        cast(Eraser, import_string(name))(band=band, student=user)
    Seat.objects.filter(student=user, section__band=band).delete()
    membership.delete()
    if not user.memberships.exists():
        throttle.forget_name(user.sign_in_name)
        user.delete()
