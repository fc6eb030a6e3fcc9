"""What exercises keep about one student, for a family that asks. Erasing needs nothing: it hangs on seats."""

from collections.abc import Iterator

from bandroom.people.models import Band, User
from bandroom.people.services.families import ExportFile
from exercises.models import SeatRange


def export_ranges(*, band: Band, student: User) -> Iterator[ExportFile]:
    """`ranges.json` with the student's own ranges, where a director has set one."""
    rows = SeatRange.objects.filter(seat__student=student, seat__section__band=band)
    kept = [
        {
            "instrument": row.seat.get_instrument_display(),
            "lowest_note": row.low,
            "lowest_easy_note": row.easy_low,
            "highest_easy_note": row.easy_high,
            "highest_note": row.high,
            "set_at": band.local(row.changed_at).isoformat(),
        }
        for row in rows.select_related("seat").order_by("pk")
    ]
    if kept:
        yield ExportFile.of_json("ranges.json", kept)
