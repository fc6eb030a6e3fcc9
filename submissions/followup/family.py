"""Everything Bandroom keeps of one student's work, for a family that asks.

Erasing needs nothing here: all rows of a student's work hang on seats and go with them, and a recording's
files go with its row.
"""

from collections.abc import Iterator
from functools import partial

from django.core.files.storage import storages

from bandroom.people.models import Band, User
from bandroom.people.services.families import ExportFile
from submissions.models import Booking, Take, TurnIn

ENDINGS = {"audio/webm": "webm", "audio/mp4": "m4a", "audio/mpeg": "mp3", "audio/flac": "flac"}


def export_work(*, band: Band, student: User) -> Iterator[ExportFile]:
    """`work.json`, then each recording, opened when its turn comes. Marks still on the desk are not in it."""
    yield ExportFile.of_json(
        "work.json",
        {
            "turn_ins": [_turn_in(row, band) for row in _turn_ins(band=band, student=student)],
            "check_ins": [
                {
                    "starts": band.local(booking.slot.starts_at).isoformat(),
                    "state": booking.get_state_display(),
                    "assignment": str(booking.assignment) if booking.assignment else None,
                }
                for booking in Booking.objects.filter(seat__student=student, slot__band=band)
                .select_related("slot", "assignment__exercise")
                .order_by("slot__starts_at")
            ],
        },
    )
    takes = Take.objects.filter(seat__student=student, assignment__band=band)
    for take in takes.select_related("assignment").order_by("declared_at", "pk"):
        # What cannot be played is given as it was sent.
        if name := take.served or take.original:
            yield ExportFile(
                path=_recording_path(take, band), open=partial(storages["takes"].open, name, "rb")
            )


def _turn_ins(*, band: Band, student: User) -> Iterator[TurnIn]:
    rows = TurnIn.objects.filter(seat__student=student, assignment__band=band)
    yield from (
        rows.select_related("assignment__exercise", "seat")
        .prefetch_related("returns", "marks__criterion", "marks__level")
        .order_by("assignment__posted_at", "pk")
    )


def _turn_in(row: TurnIn, band: Band) -> dict[str, object]:
    returned = {r.attempt: r for r in row.returns.all() if r.returned_at}
    return {
        "assignment": str(row.assignment),
        "instrument": row.seat.get_instrument_display(),
        "state": row.get_state_display(),
        "route": row.get_route_display(),
        "turned_in": row.turned_in_at and band.local(row.turned_in_at).isoformat(),
        "excuse": row.excuse,
        "attempts": [
            {
                "attempt": attempt,
                "returned": back.returned_at and band.local(back.returned_at).isoformat(),
                "what_worked": back.worked,
                "next_step": back.next_step,
                "marks": [
                    {
                        "line": mark.line,
                        "criterion": mark.criterion.name,
                        "level": mark.level.value if mark.level else None,
                        "words": mark.level.words if mark.level else "not yet",
                    }
                    for mark in row.marks.all()
                    if mark.attempt == attempt
                ],
            }
            for attempt, back in sorted(returned.items())
        ],
    }


def _recording_path(take: Take, band: Band) -> str:
    """Sorts by date; says what was played and nothing about who."""
    day = band.local(take.declared_at).date()
    lines = "".join(line for line in take.lines if line.isalnum())
    ending = ENDINGS.get(take.served_type, "bin") if take.served else "bin"
    return f"recordings/{day:%Y-%m-%d} no {take.assignment.number} line {lines} {take.pk.hex[:8]}.{ending}"
