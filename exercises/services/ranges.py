"""Ranges as a director moves them: what a band's players can reach this month, and what one student can."""

from datetime import datetime
from typing import Any

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Seat, User
from exercises.models import RangeChoice, SeatRange
from exercises.music.instruments import Ranges


def choose_ranges(
    *, band: Band, instrument: Instrument, ranges: Ranges, by: User, at: datetime
) -> RangeChoice:
    choice, _ = RangeChoice.objects.update_or_create(
        band=band, instrument=instrument, defaults=_stored(ranges, by=by, at=at)
    )
    return choice


def usual_ranges(*, band: Band, instrument: Instrument) -> bool:
    """Back to what is usual for a first year; False if that held already."""
    removed, _ = RangeChoice.objects.filter(band=band, instrument=instrument).delete()
    return removed > 0


def choose_own_range(*, seat: Seat, ranges: Ranges, by: User, at: datetime) -> SeatRange:
    """One student's own range; the band's stays as it is for everybody else."""
    own, _ = SeatRange.objects.update_or_create(seat=seat, defaults=_stored(ranges, by=by, at=at))
    return own


def range_of_the_band(*, seat: Seat) -> bool:
    """The student is judged by the band's range again; False if that held already."""
    removed, _ = SeatRange.objects.filter(seat=seat).delete()
    return removed > 0


def _stored(ranges: Ranges, *, by: User, at: datetime) -> dict[str, Any]:
    return {
        "easy_low": ranges.comfortable.low.name,
        "easy_high": ranges.comfortable.high.name,
        "low": ranges.extended.low.name,
        "high": ranges.extended.high.name,
        "changed_at": at,
        "changed_by": by,
    }
