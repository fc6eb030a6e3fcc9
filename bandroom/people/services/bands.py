"""Start a band, change its settings."""

from datetime import date

from django.db import transaction

from bandroom.people.models import Band


def create_band(*, name: str, school: str, time_zone: str, starts: date, ends: date) -> Band:
    """Raises ValidationError, as a form would, for an unknown time zone or a year that runs backwards."""
    band = Band(
        name=name, school=school, time_zone=time_zone, school_year_starts=starts, school_year_ends=ends
    )
    band.full_clean()
    band.save()
    return band


@transaction.atomic
def change_band(*, band: Band, name: str, school: str, time_zone: str, starts: date, ends: date) -> None:
    band.name, band.school, band.time_zone = name, school, time_zone
    band.school_year_starts, band.school_year_ends = starts, ends
    band.full_clean()
    band.save(update_fields=["name", "school", "time_zone", "school_year_starts", "school_year_ends"])
