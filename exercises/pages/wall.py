"""The wall: every part of a line under each other, decisions first."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import IntEnum

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

from bandroom.people.instruments import Instrument
from bandroom.people.models import Seat
from exercises.drawing.lines import spoken_line
from exercises.models import ExerciseLine, PartChoice
from exercises.music.engraving import Engraving, line_svg, px
from exercises.music.keys import fifths_of, key_words
from exercises.music.part import Part, RangeVerdict
from exercises.music.score import NoteRef
from exercises.pages.outside import OutsideNote, outside_notes, range_words
from exercises.pages.range_ruler import Reach, reach_of
from exercises.pages.reading_guide import WatchNote, watch_notes
from exercises.pages.seat_ranges import SeatReach, reach_of_seats, seats_with_own_range
from exercises.parts import engraved_wall, part_choice, part_of, ranges_of, readings_of

#: Octave shifts that the buttons of a part reach (the engine prints no others sensibly).
LOWEST_OCTAVE, HIGHEST_OCTAVE = -5, 5


class PartStanding(IntEnum):
    """How much a part asks of the director; what asks most stands first."""

    DECIDE = 0
    LOOK = 1
    STRETCH = 2
    FITS = 3

    @property
    def words(self) -> str:
        return _STANDING_WORDS[self]


_STANDING_WORDS = {
    PartStanding.DECIDE: "Outside",
    PartStanding.LOOK: "Look at this",
    PartStanding.STRETCH: "A stretch",
    PartStanding.FITS: "Fits",
}


@dataclass(frozen=True, slots=True)
class WallRow:
    """One instrument's part of the line.

    accepted  the director said yes to the notes outside
    octaves   octave shift of the part; `octave_chosen` if the director set it
    says      one sentence about the range; `warnings` further ones about keys and half steps
    changed   notes that this part rests on or plays otherwise
    beyond    students with a range of their own who do not reach all of it
    watch     altered letters of the line
    """

    instrument: Instrument
    standing: PartStanding
    key: str
    svg: SafeString
    reach: Reach | None
    says: str
    warnings: tuple[str, ...]
    outside: tuple[OutsideNote, ...]
    accepted: bool
    octaves: int
    octave_chosen: bool
    changed: int
    beyond: tuple[SeatReach, ...]
    watch: tuple[WatchNote, ...]

    @property
    def wants_a_yes(self) -> bool:
        return bool(self.outside or self.beyond) and not self.accepted

    @property
    def may_go_up(self) -> bool:
        return self.reach is not None and self.octaves < HIGHEST_OCTAVE

    @property
    def may_go_down(self) -> bool:
        return self.reach is not None and self.octaves > LOWEST_OCTAVE


@dataclass(frozen=True, slots=True)
class Wall:
    rows: tuple[WallRow, ...]

    def count(self, standing: PartStanding) -> int:
        return sum(row.standing is standing for row in self.rows)

    @property
    def summary(self) -> str:
        """ "1 needs a decision, 2 ask for a look, 6 are a stretch, 8 fit."."""
        words = {
            PartStanding.DECIDE: ("needs a decision", "need a decision"),
            PartStanding.LOOK: ("asks for a look", "ask for a look"),
            PartStanding.STRETCH: ("is a stretch", "are a stretch"),
            PartStanding.FITS: ("fits", "fit"),
        }
        counted = [(self.count(standing), each) for standing, each in words.items()]
        return ", ".join(f"{n} {one if n == 1 else more}" for n, (one, more) in counted if n) + "."


def wall_of(*, line: ExerciseLine, instruments: Sequence[Instrument]) -> Wall:
    """Raises MusicError when the line cannot be read or is too full to print."""
    engravings = engraved_wall(line=line, instruments=instruments, prefix="wall")
    seats = seats_with_own_range(band=line.exercise.band)
    rows = [
        wall_row(line=line, instrument=instrument, engraving=engraving, seats=seats)
        for instrument, engraving in zip(instruments, engravings, strict=True)
    ]
    return Wall(tuple(sorted(rows, key=lambda row: row.standing)))


def wall_row(
    *, line: ExerciseLine, instrument: Instrument, engraving: Engraving, seats: Sequence[Seat]
) -> WallRow:
    exercise = line.exercise
    part = part_of(line=line, instrument=instrument)
    ranges = ranges_of(band=exercise.band, instrument=instrument)
    choice = part_choice(exercise=exercise, instrument=instrument)
    accepted = bool(choice and choice.accepted_outside)
    others = beside_the_range(line, part)
    beyond = tuple(reach for reach in reach_of_seats(part, seats) if reach.is_outside)
    readings = readings_of(part, line=line)
    name = f"Line {line.label} for {instrument.label}: {spoken_line(part)}"
    return WallRow(
        instrument=instrument,
        standing=_standing(part, accepted=accepted, looks=bool(others or (beyond and not accepted))),
        key=key_words(part.line.fifths).partition(":")[0] if part.instrument.pitched else "no pitch",
        svg=mark_safe(  # noqa: S308 - the engine escapes all it draws
            line_svg(engraving, label=name, overlay=brackets(engraving, part.outside), pad_top=12)
        ),
        reach=reach_of(part, ranges) if ranges else None,
        says=range_words(part, ranges) if ranges else "The rhythm alone",
        warnings=others,
        outside=tuple(outside_notes(part)),
        accepted=accepted,
        octaves=part.octaves,
        octave_chosen=bool(choice and choice.octave is not None),
        changed=_changed(choice, line.label),
        beyond=beyond,
        watch=watch_notes(part, readings) if part.instrument.pitched else (),
    )


def _standing(part: Part, *, accepted: bool, looks: bool) -> PartStanding:
    if part.verdict is RangeVerdict.OUTSIDE and not accepted:
        return PartStanding.DECIDE
    if looks:
        return PartStanding.LOOK
    return PartStanding.FITS if part.verdict is RangeVerdict.COMFORTABLE else PartStanding.STRETCH


def beside_the_range(line: ExerciseLine, part: Part) -> tuple[str, ...]:
    """What to know about the key and half steps: notes outside the range are drawn and counted."""
    return (*_simplified_key(line, part), *part.warnings[len(part.outside) :])


def _simplified_key(line: ExerciseLine, part: Part) -> Iterator[str]:
    """Said when the part is not written in the key that its transposition gives."""
    plain = int(line.score["fifths"]) + fifths_of(part.instrument.from_concert)
    if part.instrument.pitched and plain != part.line.fifths:
        written = key_words(part.line.fifths).partition(":")[0]
        kind = "sharps" if plain > 0 else "flats"
        yield f"Written with {written} in place of {abs(plain)} {kind}: it sounds the same."


def _changed(choice: PartChoice | None, label: str) -> int:
    if choice is None:
        return 0
    return len(choice.left_out.get(label, ())) + len(choice.instead.get(label, {}))


def brackets(engraving: Engraving, refs: Sequence[NoteRef]) -> SafeString:
    """A bracket over each of these notes: look here."""
    places = {place.index: place for place in engraving.notes}
    drawn = []
    for ref in refs:
        place = places[ref.index]
        top = engraving.systems[place.system].ink_top - 8
        drawn.append((px(place.x - 9), px(top + 4), px(top), px(place.x + 9)))
    return format_html(
        '<g aria-hidden="true">{}</g>',
        format_html_join(
            "",
            '<path class="bracket" d="M{} {}V{}H{}V{}"/>',
            ((x1, low, top, x2, low) for x1, low, top, x2 in drawn),
        ),
    )
