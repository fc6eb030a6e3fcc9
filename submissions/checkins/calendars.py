"""Check-ins as iCalendar (RFC 5545), for the calendar a person uses anyway.

A calendar program may keep its events anywhere, so an event holds the least: never a meeting link or
passcode, of other people first names only, and those only for staff. Times are in UTC. An event keeps its
UID through every move; SEQUENCE counts the changes; a cancelled one stays, with STATUS:CANCELLED.
"""

import uuid
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from django.utils.translation import gettext as _
from icalendar import Calendar, Event

from submissions.models import Booking, Slot

PRODUCT = "-//Bandroom//Check-ins//EN"
NAMESPACE = uuid.UUID("0c9d2a6e-6f0b-4d0c-9f0e-6a1d2f7c8b35")
#: How often a calendar program is asked to look again.
REFRESHED_EVERY = timedelta(hours=1)

type AddressOf = Callable[[Slot], str]


@dataclass(frozen=True, slots=True)
class Entry:
    """One event; all instants aware."""

    uid: uuid.UUID
    summary: str
    slot: Slot
    changed_at: datetime
    sequence: int
    is_cancelled: bool


def student_entry(booking: Booking) -> Entry:
    """A student's own booking; `booking` with its slot and assignment."""
    slot = booking.slot
    return Entry(
        uid=uuid.uuid5(NAMESPACE, f"booking {booking.pk} {booking.booked_at.isoformat()}"),
        summary=_student_summary(booking),
        slot=slot,
        changed_at=max(booking.changed_at, slot.changed_at or booking.changed_at),
        sequence=booking.sequence + slot.sequence,
        is_cancelled=booking.state == Booking.State.CANCELLED or slot.cancelled_at is not None,
    )


def _student_summary(booking: Booking) -> str:
    if booking.assignment is None:
        return _("Check-in: help")
    words = (
        _("Check-in: play {assignment} and help") if booking.wants_help else _("Check-in: play {assignment}")
    )
    return words.format(assignment=booking.assignment)


def staff_entry(slot: Slot, bookings: Iterable[Booking]) -> Entry:
    """A time with who comes; `bookings` are those not cancelled."""
    booked = list(bookings)
    names = ", ".join(booking.seat.student.first_name for booking in booked)
    changes = [slot.made_at, *(booking.changed_at for booking in booked)]
    if slot.changed_at is not None:
        changes.append(slot.changed_at)
    return Entry(
        uid=uuid.uuid5(NAMESPACE, f"slot {slot.pk} {slot.series}"),
        summary=_("Check-in: {names}").format(names=names or _("nobody yet")),
        slot=slot,
        changed_at=max(changes),
        sequence=slot.sequence,
        is_cancelled=slot.cancelled_at is not None,
    )


def calendar(entries: Iterable[Entry], *, name: str, address_of: AddressOf) -> bytes:
    """The whole file."""
    found = Calendar()
    found.add("prodid", PRODUCT)
    found.add("version", "2.0")
    # a band made by hand may have a name of several lines; a calendar's has one
    name = " ".join(name.split())
    found.add("name", name)
    found.add("x-wr-calname", name)
    found.add("refresh-interval", REFRESHED_EVERY, parameters={"VALUE": "DURATION"})
    for entry in entries:
        found.add_component(_event(entry, address=address_of(entry.slot)))
    content: bytes = found.to_ical()
    return content


def _event(entry: Entry, *, address: str) -> Event:
    event = Event()
    event.add("uid", str(entry.uid))
    event.add("summary", entry.summary)
    event.add("dtstart", entry.slot.starts_at.astimezone(UTC))
    event.add("dtend", entry.slot.ends_at.astimezone(UTC))
    # without METHOD this is when the event was last revised (RFC 5545, 3.8.7.2)
    event.add("dtstamp", entry.changed_at.astimezone(UTC))
    event.add("last-modified", entry.changed_at.astimezone(UTC))
    event.add("sequence", entry.sequence)
    event.add("status", "CANCELLED" if entry.is_cancelled else "CONFIRMED")
    event.add("class", "PRIVATE")
    event.add("location", entry.slot.place or _("By video"))
    event.add("description", _("Open the address of this event and sign in to see all about it."))
    event.add("url", address)
    return event
