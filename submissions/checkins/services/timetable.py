"""The moves of a director's times: made, changed, cancelled, taken away."""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.core.exceptions import ValidationError
from django.db import transaction

from bandroom.people.models import Band, Section
from submissions.checkins import times
from submissions.errors import Refused
from submissions.models import Booking, Slot
from submissions.models.checkins import WEB_ADDRESS

#: A student who came, or was waited for, is part of the record.
PLACE_HOLDING = (Booking.State.BOOKED, Booking.State.CAME, Booking.State.ABSENT)
OVER = "This time is over, so it stays as it was."


@dataclass(frozen=True, slots=True)
class Where:
    """Where a meeting is held; link and passcode are for those who booked, and for staff."""

    place: str = ""
    link: str = ""
    passcode: str = ""

    def check(self) -> None:
        """Refused for anything but a web address, and for a meeting that is nowhere."""
        if not self.place and not self.link:
            raise Refused("Say where it is: a place, a meeting link, or both.")
        longest = ((self.place, 120, "place"), (self.link, 500, "link"), (self.passcode, 60, "passcode"))
        for text, most, name in longest:
            if len(text) > most:
                raise Refused(f"Keep the {name} under {most} characters.")
        if self.link:
            try:
                WEB_ADDRESS(self.link)
            except ValidationError as error:
                raise Refused(error.messages[0]) from error


@transaction.atomic
def make_slots(
    *,
    band: Band,
    sections: Iterable[Section],
    first_starts_at: datetime,
    minutes: int,
    at: datetime,
    count: int = 1,
    weeks: int = 1,
    capacity: int = 1,
    place: str = "",
    link: str = "",
    passcode: str = "",
    purpose: Slot.Purpose = Slot.Purpose.EITHER,
    series: uuid.UUID | None = None,
) -> tuple[Slot, ...]:
    """`count` times of `minutes` in a row, every week for `weeks` weeks on the band's clock.

    `series` names the times made together; asked for again with the same name, nothing is made twice.
    """
    where = Where(place=place.strip(), link=link.strip(), passcode=passcode.strip())
    where.check()
    chosen = _sections_of(band=band, sections=sections)
    if first_starts_at <= at:
        raise Refused("The first time has passed already; choose a later one.")
    _check_size(minutes=minutes, count=count, weeks=weeks, capacity=capacity)
    # two presses of one button meet here
    Band.objects.select_for_update(no_key=True).get(pk=band.pk)
    name = series or uuid.uuid4()
    made = tuple(Slot.objects.filter(band=band, series=name))
    if made:
        return made
    planned = times.series(
        first_starts_at=first_starts_at, minutes=minutes, count=count, weeks=weeks, zone=band.zone
    )
    slots = Slot.objects.bulk_create(
        Slot(
            band=band,
            starts_at=slot.starts_at,
            ends_at=slot.ends_at,
            capacity=capacity,
            place=where.place,
            link=where.link,
            passcode=where.passcode,
            purpose=purpose,
            series=name,
            made_at=at,
        )
        for slot in planned
    )
    through = Slot.sections.through
    through.objects.bulk_create(
        through(slot_id=slot.pk, section_id=section.pk) for slot in slots for section in chosen
    )
    return tuple(slots)


@transaction.atomic
def change_slot(
    *,
    slot: Slot,
    starts_at: datetime,
    ends_at: datetime,
    capacity: int,
    where: Where,
    purpose: Slot.Purpose,
    sections: Iterable[Section],
    at: datetime,
    where_for_the_rest: bool = False,
) -> Slot:
    """Students who booked keep their place and see the change.

    `where_for_the_rest`: place, link and passcode also for the later times made together with this one.
    """
    where.check()
    chosen = _sections_of(band=slot.band, sections=sections)
    row = _locked(slot)
    if row.cancelled_at is not None:
        raise Refused("This time is cancelled; make a new one instead.")
    if row.ends_at <= at:
        raise Refused(OVER)
    if starts_at != row.starts_at and starts_at <= at:
        raise Refused("That start has passed already; choose a later one.")
    if ends_at <= starts_at:
        raise Refused("It would end before it starts; give it at least one minute.")
    if capacity < row.taken:
        booked = "1 student has" if row.taken == 1 else f"{row.taken} students have"
        raise Refused(f"{booked} booked already; keep at least as many places.")
    if row.bookings.filter(state=Booking.State.BOOKED, assignment__isnull=False).exists() and (
        purpose == Slot.Purpose.HELP
    ):
        raise Refused("A student booked it to turn in, so it cannot be for help only.")
    _move(row, starts_at=starts_at, ends_at=ends_at, where=where, at=at)
    row.capacity, row.purpose = capacity, purpose
    row.save()
    row.sections.set(chosen)
    if where_for_the_rest:
        later = Slot.objects.select_for_update().filter(
            series=row.series, band=row.band, starts_at__gt=row.starts_at, cancelled_at__isnull=True
        )
        for other in later.order_by("pk"):
            _move(other, starts_at=other.starts_at, ends_at=other.ends_at, where=where, at=at)
            other.save()
    return row


@transaction.atomic
def cancel_slot(*, slot: Slot, at: datetime) -> Slot:
    """Those who booked see that it was cancelled. Cancelled again, nothing changes."""
    row = _locked(slot)
    if row.cancelled_at is not None:
        return row
    if row.ends_at <= at:
        raise Refused(OVER)
    if row.bookings.filter(state=Booking.State.CAME).exists():
        raise Refused("A student was here already, so it stays; mark those who did not come as absent.")
    row.cancelled_at = row.changed_at = at
    row.sequence += 1
    row.save(update_fields=["cancelled_at", "changed_at", "sequence"])
    return row


@transaction.atomic
def delete_slot(*, slot: Slot) -> None:
    """Only while nobody holds a place in it."""
    row = _locked(slot)
    if row.bookings.filter(state__in=PLACE_HOLDING).exists():
        raise Refused("A student has booked this time; cancel it instead, so that the student sees it.")
    row.delete()


def _locked(slot: Slot) -> Slot:
    row = Slot.objects.select_for_update(of=("self",)).select_related("band").filter(pk=slot.pk).first()
    if row is None:
        raise Refused("This time was deleted meanwhile.")
    return row


def _move(slot: Slot, *, starts_at: datetime, ends_at: datetime, where: Where, at: datetime) -> None:
    old = (slot.starts_at, slot.ends_at, slot.place, slot.link, slot.passcode)
    slot.starts_at, slot.ends_at = starts_at, ends_at
    slot.place, slot.link, slot.passcode = where.place, where.link, where.passcode
    if old != (starts_at, ends_at, where.place, where.link, where.passcode):
        slot.changed_at = at
        slot.sequence += 1


def _sections_of(*, band: Band, sections: Iterable[Section]) -> list[Section]:
    chosen = list(sections)
    if not chosen:
        raise Refused("Choose at least one section that can book.")
    if any(section.band_id != band.pk for section in chosen):
        raise Refused("Choose sections of this band only.")
    return chosen


def _check_size(*, minutes: int, count: int, weeks: int, capacity: int) -> None:
    limits = (
        (minutes, times.LONGEST_MINUTES, "minutes each"),
        (count, times.MOST_IN_A_ROW, "times in a row"),
        (weeks, times.MOST_WEEKS, "weeks"),
        (capacity, times.MOST_PLACES, "places in each"),
    )
    for number, most, words in limits:
        if not 1 <= number <= most:
            raise Refused(f"Choose from 1 to {most} {words}.")
