"""One instrument's part on the director's page: both lines, what to decide, how it is read and fingered."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe

from bandroom.people.instruments import Instrument
from bandroom.people.models import Seat
from exercises.drawing.lines import DrawnLine, drawn_line
from exercises.models import Exercise, ExerciseLine, PartChoice
from exercises.music.keyboard import keyboard_svg
from exercises.music.part import Part
from exercises.music.pitch import Pitch
from exercises.pages.fingerings import NoteFingering, note_fingerings
from exercises.pages.outside import OutsideNote, outside_notes, range_words
from exercises.pages.range_ruler import Reach, reach_of
from exercises.pages.reading_guide import ReadingGuide, place_words, reading_guide
from exercises.pages.seat_ranges import SeatReach, reach_of_seats, seats_with_own_range
from exercises.pages.wall import beside_the_range
from exercises.parts import part_choice, part_of, ranges_of


@dataclass(frozen=True, slots=True)
class ChangedNote:
    """A note that this part leaves out or plays otherwise."""

    index: int
    place: str
    says: str


@dataclass(frozen=True, slots=True)
class NoteChoice:
    """One note of the line, to choose for a decision."""

    index: int
    place: str
    name: str


@dataclass(frozen=True, slots=True)
class PartLine:
    drawn: DrawnLine
    label: str
    verdict: str
    says: str
    warnings: tuple[str, ...]
    reach: Reach | None
    outside: tuple[OutsideNote, ...]
    changed: tuple[ChangedNote, ...]
    notes: tuple[NoteChoice, ...]
    guide: ReadingGuide
    fingerings: tuple[NoteFingering, ...]
    seats: tuple[SeatReach, ...]
    keyboard: SafeString


@dataclass(frozen=True, slots=True)
class PartPage:
    instrument: Instrument
    lines: tuple[PartLine, ...]
    octaves: int
    octave_chosen: bool
    accepted: bool
    pitched: bool

    @property
    def is_outside(self) -> bool:
        """For the band, or for a student with a range of their own."""
        return any(line.outside or any(seat.is_outside for seat in line.seats) for line in self.lines)


def part_page(*, exercise: Exercise, instrument: Instrument, names: bool) -> PartPage:
    """Raises MusicError when a line cannot be made into a part.

    names  with letter names and counts under the notes
    """
    choice = part_choice(exercise=exercise, instrument=instrument)
    seats = seats_with_own_range(band=exercise.band)
    lines = tuple(_line(line, instrument, choice, seats, names=names) for line in exercise.lines.all())
    first = part_of(line=exercise.lines.all()[0], instrument=instrument)
    return PartPage(
        instrument=instrument,
        lines=lines,
        octaves=first.octaves,
        octave_chosen=bool(choice and choice.octave is not None),
        accepted=bool(choice and choice.accepted_outside),
        pitched=first.instrument.pitched,
    )


def _line(
    line: ExerciseLine,
    instrument: Instrument,
    choice: PartChoice | None,
    seats: Sequence[Seat],
    *,
    names: bool,
) -> PartLine:
    part = part_of(line=line, instrument=instrument)
    ranges = ranges_of(band=line.exercise.band, instrument=instrument)
    return PartLine(
        drawn=drawn_line(
            line=line,
            instrument=instrument,
            prefix=f"part{line.label}",
            names=names and part.instrument.pitched,
            counted=names,
        ),
        label=line.label,
        verdict=part.verdict,
        says=range_words(part, ranges) if ranges else "",
        warnings=beside_the_range(line, part),
        reach=reach_of(part, ranges) if ranges else None,
        outside=tuple(outside_notes(part)),
        changed=tuple(_changed(line, part, choice)) if choice else (),
        notes=tuple(_notes(part)),
        guide=reading_guide(line=line, instrument=instrument),
        fingerings=note_fingerings(line=line, instrument=instrument),
        seats=reach_of_seats(part, seats),
        keyboard=mark_safe(keyboard_svg(part, label=f"Line {line.label}")),  # noqa: S308 - the engine escapes
    )


def _changed(line: ExerciseLine, part: Part, choice: PartChoice) -> Iterator[ChangedNote]:
    refs = part.line.refs()
    for index in choice.left_out.get(line.label, ()):
        if index < len(refs):
            yield ChangedNote(index, place_words(part, refs[index]), "left out")
    for key, name in choice.instead.get(line.label, {}).items():
        if int(key) < len(refs):
            says = f"{Pitch.parse(name).printed} instead"
            yield ChangedNote(int(key), place_words(part, refs[int(key)]), says)


def _notes(part: Part) -> Iterator[NoteChoice]:
    tied = part.line.tied_in()
    for note, ref in zip(part.line.notes, part.line.refs(), strict=True):
        if note.pitch is not None and not tied[ref.index]:
            yield NoteChoice(ref.index, place_words(part, ref), note.pitch.printed)
