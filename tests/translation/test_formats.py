"""Dates, times and numbers as the language has them.

Source: Unicode CLDR, locales es_US and es_MX (which agree), as Babel 2.18 carries it.
"""

from datetime import UTC, datetime

import pytest
from babel.dates import format_datetime
from babel.numbers import format_decimal
from django.template import Context, Template
from django.utils import formats
from django.utils.translation import override

from bandroom.people.models import Band
from bandroom.people.templatetags.look import band_clock, band_day, band_time, band_weekday, time_left

LOCALES = ("es_US", "es_MX")
MOMENTS = [datetime(2026, month, 26, hour, 5, tzinfo=UTC) for month in range(1, 13) for hour in (1, 13, 19)]


@pytest.mark.django_db
@pytest.mark.parametrize("locale", LOCALES)
def test_spanish_days_and_times_are_those_of_cldr(band: Band, locale: str):
    with override("es"):
        for moment in MOMENTS:
            local = band.local(moment).replace(tzinfo=None)
            assert band_day(moment, band) == format_datetime(local, "EEEE d 'de' MMMM", locale=locale)
            assert band_weekday(moment, band) == format_datetime(local, "EEEE", locale=locale)
            assert band_clock(moment, band) == format_datetime(local, "h:mm a", locale=locale)


@pytest.mark.django_db
def test_english_days_and_times_stay_as_they_were(band: Band):
    assert band_time(datetime(2026, 11, 27, 2, 0, tzinfo=UTC), band) == "Thursday 26 November, 8:00 pm"


@pytest.mark.django_db
def test_what_is_left_until_it_is_due_is_said_in_spanish(band: Band):
    at = datetime(2026, 10, 6, 20, 0, tzinfo=UTC)
    with override("es"):
        assert time_left(datetime(2026, 10, 6, 22, 0, tzinfo=UTC), band, at) == "para hoy"
        assert time_left(datetime(2026, 10, 7, 22, 0, tzinfo=UTC), band, at) == "para mañana"
        assert time_left(datetime(2026, 10, 9, 22, 0, tzinfo=UTC), band, at) == "faltan tres días"
        assert time_left(datetime(2026, 10, 26, 22, 0, tzinfo=UTC), band, at) == "faltan 20 días"


@pytest.mark.parametrize("locale", LOCALES)
def test_spanish_numbers_are_those_of_cldr(locale: str):
    with override("es"):
        assert formats.number_format(1234567.5, force_grouping=True) == format_decimal(
            1234567.5, locale=locale
        )
        assert Template("{{ half }}").render(Context({"half": 2.5})) == format_decimal(2.5, locale=locale)
