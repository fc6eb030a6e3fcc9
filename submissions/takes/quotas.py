"""How much recordings may take up on the school's computer: of one student, and of a band.

What counts are bytes that are here: what was received and the copy that is played. What retention deleted
counts no more.
"""

from dataclasses import dataclass

from django.conf import settings
from django.db.models import F, QuerySet, Sum
from django.utils.translation import gettext as _

from bandroom.people.models import Band, Seat
from submissions.models import Take
from submissions.takes.refusals import NoRoom

GIGABYTE = 1024**3


@dataclass(frozen=True, slots=True)
class Quota:
    """Bytes that are used, of bytes that may be."""

    used: int
    most: int

    def has_room_for(self, count: int) -> bool:
        return self.used + count <= self.most

    @property
    def words(self) -> str:
        """ "3.2 of 200 GB", for directors."""
        return f"{self.used / GIGABYTE:.1f} of {self.most / GIGABYTE:.0f} GB"


def quota_of_band(band: Band) -> Quota:
    """One query."""
    return Quota(_bytes(Take.objects.filter(assignment__band=band)), settings.BAND_MOST_BYTES)


def quota_of_student(seat: Seat) -> Quota:
    """Over all seats that the student ever had; one query."""
    return Quota(_bytes(Take.objects.filter(seat__student=seat.student_id)), settings.STUDENT_MOST_BYTES)


def check_room(*, seat: Seat, band: Band, count: int) -> None:
    """Raises NoRoom where so many bytes more are too many; the phone keeps the recording for later."""
    if not quota_of_student(seat).has_room_for(count):
        raise NoRoom(
            _(
                "Your recordings have filled the room that one student has. This one stays on your phone or "
                "computer; ask your director."
            )
        )
    if not quota_of_band(band).has_room_for(count):
        raise NoRoom(
            _(
                "Your band's recordings have filled the room that they have. This one stays on your phone or "
                "computer; ask your director."
            )
        )


def _bytes(takes: QuerySet[Take]) -> int:
    kept = takes.exclude(state=Take.State.DELETED).aggregate(
        total=Sum(F("received_bytes") + F("served_bytes"))
    )
    return int(kept["total"] or 0)
