"""Private calendar addresses: made, made anew, ended, and found by their secret.

The address is a key: whoever has it reads the calendar, without signing in. The server keeps only the
SHA-256 of its secret, so that nobody reads addresses out of the database or a backup.
"""

import hashlib
import secrets
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Prefetch

from bandroom.people.models import Band, Membership, User
from submissions.checkins.calendars import Entry, staff_entry, student_entry
from submissions.models import Booking, CalendarFeed, Slot

SECRET_BYTES = 32
BACK, AHEAD = timedelta(days=30), timedelta(days=366)


@transaction.atomic
def make_feed(*, user: User, band: Band, at: datetime) -> str:
    """A new secret, to be shown once; the address given before ends with it."""
    secret = secrets.token_urlsafe(SECRET_BYTES)
    CalendarFeed.objects.update_or_create(
        user=user, band=band, defaults={"secret_sha256": sha256_of(secret), "made_at": at}
    )
    return secret


def end_feed(*, user: User, band: Band) -> None:
    CalendarFeed.objects.filter(user=user, band=band).delete()


def member_of(secret: str) -> Membership | None:
    """Whose calendar the address shows; None for an unknown secret, and for who has left the band."""
    feed = CalendarFeed.objects.filter(secret_sha256=sha256_of(secret)).first()
    if feed is None:
        return None
    members = Membership.objects.filter(
        user=feed.user_id, band=feed.band_id, ended_at__isnull=True, user__is_active=True
    )
    return members.select_related("band", "user").first()


def has_feed(member: Membership) -> bool:
    return CalendarFeed.objects.filter(user=member.user_id, band=member.band_id).exists()


def entries_of(member: Membership, *, at: datetime) -> list[Entry]:
    """A month back and a year ahead: a student's own bookings, or for staff every time of the band."""
    window = {"starts_at__gte": at - BACK, "starts_at__lt": at + AHEAD}
    if member.is_staff:
        bookings = (
            Booking.objects.exclude(state=Booking.State.CANCELLED)
            .select_related("seat__student")
            .order_by("booked_at", "pk")
        )
        slots = Slot.objects.filter(band=member.band, **window).prefetch_related(
            Prefetch("bookings", bookings)
        )
        return [staff_entry(slot, slot.bookings.all()) for slot in slots]
    own = Booking.objects.filter(
        seat__student=member.user_id,
        slot__band=member.band_id,
        **{f"slot__{name}": value for name, value in window.items()},
    )
    found = own.select_related("slot", "assignment__exercise").order_by("slot__starts_at", "pk")
    return [student_entry(booking) for booking in found]


def sha256_of(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
