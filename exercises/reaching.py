"""The band's own ranges: what its players can reach this month."""

from datetime import datetime

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, User
from exercises.models import RangeChoice
from exercises.music.instruments import Ranges


def choose_ranges(
    *, band: Band, instrument: Instrument, ranges: Ranges, by: User, at: datetime
) -> RangeChoice:
    choice, _ = RangeChoice.objects.update_or_create(
        band=band,
        instrument=instrument,
        defaults={
            "easy_low": ranges.comfortable.low.name,
            "easy_high": ranges.comfortable.high.name,
            "low": ranges.extended.low.name,
            "high": ranges.extended.high.name,
            "changed_at": at,
            "changed_by": by,
        },
    )
    return choice


def usual_ranges(*, band: Band, instrument: Instrument) -> bool:
    """Back to what is usual for a first year; False if that held already."""
    removed, _ = RangeChoice.objects.filter(band=band, instrument=instrument).delete()
    return removed > 0
