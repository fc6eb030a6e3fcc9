"""Sections of a band: add, change, put in order, take away."""

from django.db import IntegrityError, transaction
from django.db.models import Max, ProtectedError

from bandroom.people.errors import Refused
from bandroom.people.models import Band, Section

UP, DOWN = -1, 1


def _twice(name: str, period: str) -> Refused:
    when = f"in period {period}" if period else "without a period"
    return Refused(f"There is a section {name} {when} already: give this one another name or period.")


def add_section(*, band: Band, name: str, period: str) -> Section:
    """At the end of its period."""
    last = Section.objects.filter(band=band, period=period).aggregate(last=Max("order"))["last"]
    try:
        with transaction.atomic():
            return Section.objects.create(
                band=band, name=name, period=period, order=0 if last is None else last + 1
            )
    except IntegrityError:
        raise _twice(name, period) from None


def change_section(*, section: Section, name: str, period: str) -> None:
    old = (section.name, section.period)
    section.name, section.period = name, period
    try:
        with transaction.atomic():
            section.save(update_fields=["name", "period"])
    except IntegrityError:
        section.name, section.period = old
        raise _twice(name, period) from None


@transaction.atomic
def move_section(*, section: Section, by: int) -> None:
    """One place `UP` or `DOWN` among the sections of its period; at the end of the row nothing happens."""
    row = list(
        Section.objects.select_for_update()
        .filter(band_id=section.band_id, period=section.period)
        .order_by("order", "name", "pk")
    )
    here = next(index for index, other in enumerate(row) if other.pk == section.pk)
    there = here + by
    if 0 <= there < len(row):
        row[here], row[there] = row[there], row[here]
    for index, other in enumerate(row):
        other.order = index
    Section.objects.bulk_update(row, ["order"])


def remove_section(*, section: Section) -> None:
    """Only a section that nobody ever sat in and nothing was posted to."""
    try:
        with transaction.atomic():
            section.delete()
    except ProtectedError:
        raise Refused(
            f"{section.name} has seats or assignments, and their history is kept: "
            "rename the section, or move its students to another one and leave it empty."
        ) from None
