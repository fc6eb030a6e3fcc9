"""Students with a range of their own: what of a part they do not reach yet. For staff alone."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from bandroom.people.models import Band, Seat
from bandroom.people.queries import open_seats
from exercises.models import ExerciseLine, SeatRange
from exercises.music.errors import MusicError
from exercises.music.part import Part, RangeVerdict, judged_by
from exercises.pages.outside import OutsideNote, outside_notes, range_words
from exercises.parts import part_of


@dataclass(frozen=True, slots=True)
class SeatReach:
    """One line of a part as it is for one student.

    says  "1 of 4 above D4, the highest taught note"; "" where the part fits
    """

    seat: Seat
    label: str
    verdict: RangeVerdict
    says: str
    outside: tuple[OutsideNote, ...]

    @property
    def student(self) -> str:
        return self.seat.student.full_name

    @property
    def is_outside(self) -> bool:
        return self.verdict is RangeVerdict.OUTSIDE

    @property
    def notes(self) -> str:
        """ "A5 in bar 7, beat 2; B5 in bar 8, beat 1"."""
        return "; ".join(f"{note.name} in {note.place}" for note in self.outside)


def seats_with_own_range(*, band: Band) -> list[Seat]:
    """Seats of today whose student has a range of their own; one query."""
    seats = open_seats(band).filter(own_range__isnull=False)
    return list(seats.select_related("student", "own_range").in_score_order())


def reach_of_seats(part: Part, seats: Iterable[Seat]) -> tuple[SeatReach, ...]:
    """The part for each of these seats that plays its instrument; those that do not reach it come first."""
    found = [_reach(part, seat, seat.own_range) for seat in seats if seat.instrument == part.instrument_id]
    return tuple(sorted(found, key=lambda reach: not reach.is_outside))


def out_of_reach(*, lines: Sequence[ExerciseLine], seat: Seat) -> tuple[SeatReach, ...]:
    """Lines that this student does not reach whole; empty without a range of their own. One query."""
    own = SeatRange.objects.filter(seat=seat).first()
    if own is None:
        return ()
    found = []
    for line in lines:
        try:
            found.append(_reach(part_of(line=line, instrument=seat.instrument), seat, own))
        except MusicError:
            continue  # the page says elsewhere that this line cannot be read
    return tuple(reach for reach in found if reach.is_outside)


def _reach(part: Part, seat: Seat, own: SeatRange) -> SeatReach:
    judged = judged_by(part, own.ranges)
    return SeatReach(
        seat=seat,
        label=part.line.label,
        verdict=judged.verdict,
        says=range_words(judged, own.ranges),
        outside=tuple(outside_notes(judged)),
    )
