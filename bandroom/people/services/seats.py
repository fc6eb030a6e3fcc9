"""Who sits where, on which instrument, from when until when. A seat that ends keeps its history."""

from datetime import date, timedelta

from django.db import IntegrityError, transaction

from bandroom.people.errors import Refused
from bandroom.people.instruments import Instrument
from bandroom.people.models import Seat, Section, User


def _seated_already(student: User, section: Section) -> Refused:
    return Refused(f"{student} has a seat in {section} already: change that one instead.")


def take_seat(*, student: User, section: Section, instrument: Instrument, since: date) -> Seat:
    try:
        with transaction.atomic():
            return Seat.objects.create(section=section, student=student, instrument=instrument, since=since)
    except IntegrityError:
        raise _seated_already(student, section) from None


def _close(*, seat: Seat, last_day: date) -> None:
    """`seat` may have been read a while ago: it is closed only if it is still open."""
    if last_day < seat.since:
        raise Refused(f"This seat began on {seat.since:%-d %B %Y}: choose that day or a later one.")
    if not Seat.objects.filter(pk=seat.pk, until__isnull=True).update(until=last_day):
        raise Refused("This seat has ended in the meantime: reload the page to see how things stand.")
    seat.until = last_day


def change_seat(*, seat: Seat, section: Section, instrument: Instrument, on: date) -> Seat:
    """From `on` the student sits in `section` on `instrument`; the old seat ends the day before.

    A seat that began on that same day is put right in place: it has no day of its own to keep.
    """
    if on < seat.since:
        raise Refused(f"This seat began on {seat.since:%-d %B %Y}: choose that day or a later one.")
    if (section.pk, instrument) == (seat.section_id, seat.instrument):
        return seat
    try:
        with transaction.atomic():
            if on == seat.since:
                changed = Seat.objects.filter(pk=seat.pk, until__isnull=True).update(
                    section=section, instrument=instrument
                )
                if not changed:
                    raise Refused(
                        "This seat has ended in the meantime: reload the page to see how things stand."
                    )
                return Seat.objects.get(pk=seat.pk)
            _close(seat=seat, last_day=on - timedelta(days=1))
            return Seat.objects.create(section=section, student=seat.student, instrument=instrument, since=on)
    except IntegrityError:
        raise _seated_already(seat.student, section) from None


@transaction.atomic
def end_seat(*, seat: Seat, last_day: date) -> None:
    """`last_day` is the last day the seat is taken."""
    _close(seat=seat, last_day=last_day)
