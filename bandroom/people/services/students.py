"""Students of a band: add, rename, let go, take back; who may record."""

from datetime import datetime

from django.db import IntegrityError, transaction
from django.db.models import F

from bandroom.people.errors import Refused
from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Membership, RecordingPermission, Role, Seat, Section, User
from bandroom.people.name_ids import new_name_ids
from bandroom.people.services.seats import take_seat

# Two requests that draw the same name-id at the same moment: the second draws anew.
DRAWS = 5


def create_student(
    *,
    band: Band,
    first_name: str,
    last_name: str = "",
    section: Section | None = None,
    instrument: Instrument | None = None,
    recording: RecordingPermission = RecordingPermission.PENDING,
    name_id: str | None = None,
    at: datetime,
) -> Membership:
    """A new student, without a passphrase until a card is issued; seated today if a section is given.

    Recording waits for permission unless the caller says otherwise. `name_id` is drawn if it is not given.
    """
    if (section is None) != (instrument is None):
        raise ValueError("A seat needs both a section and an instrument.")
    for draw in range(DRAWS):
        try:
            with transaction.atomic():
                user = User.objects.create_user(
                    name_id or new_name_ids([first_name])[0],
                    first_name=first_name,
                    last_name=last_name,
                )
                membership = Membership.objects.create(
                    band=band, user=user, role=Role.STUDENT, recording=recording
                )
                if section is not None and instrument is not None:
                    take_seat(
                        student=user, section=section, instrument=instrument, since=band.local(at).date()
                    )
                return membership
        except IntegrityError:
            if name_id is not None:
                raise Refused(f"The name-id {name_id} is taken: choose another one.") from None
            if draw == DRAWS - 1:
                raise
    raise AssertionError("unreachable")


def rename_student(*, user: User, first_name: str, last_name: str) -> None:
    """The name-id stays: it stands on the card, and work is signed in with it."""
    user.first_name, user.last_name = first_name, last_name
    user.save(update_fields=["first_name", "last_name"])


def set_recording(*, band: Band, permissions: dict[int, RecordingPermission]) -> int:
    """`permissions` by membership pk; those of other bands and of staff are left alone. How many changed."""
    changed = []
    with transaction.atomic():
        for membership in Membership.objects.select_for_update().filter(
            band=band, role=Role.STUDENT, pk__in=permissions
        ):
            if membership.recording != permissions[membership.pk]:
                membership.recording = permissions[membership.pk]
                changed.append(membership)
        Membership.objects.bulk_update(changed, ["recording"])
    return len(changed)


@transaction.atomic
def leave_band(*, membership: Membership, at: datetime) -> None:
    """The student's seats end today and the card stops working; all that was played and marked is kept."""
    if not Membership.objects.filter(pk=membership.pk, ended_at__isnull=True).update(
        ended_at=at, card_issued_at=None
    ):
        raise Refused(f"{membership.user} has left the band already.")
    today = membership.band.local(at).date()
    open_seats = Seat.objects.filter(
        student=membership.user, section__band=membership.band, until__isnull=True
    )
    open_seats.filter(since__lte=today).update(until=today)
    open_seats.update(until=F("since"))
    if not membership.user.memberships.filter(ended_at__isnull=True).exists():
        # Also ends the sessions that are open.
        membership.user.set_unusable_password()
        membership.user.save(update_fields=["password"])
    membership.refresh_from_db(fields=["ended_at", "card_issued_at"])


def come_back(*, membership: Membership) -> None:
    """Back in the band, without a seat and without a card until they are given."""
    if not Membership.objects.filter(pk=membership.pk, ended_at__isnull=False).update(ended_at=None):
        raise Refused(f"{membership.user} is in the band already.")
    membership.ended_at = None
