"""What a page says about a part so that it can be read: watch notes, and why each note sounds as it does.

View models for the template _reading_guide.html, on the screen and on paper.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.utils.translation import gettext as _

from exercises.models import ExerciseLine
from exercises.music.keys import key_words
from exercises.music.part import Part
from exercises.music.reading import ACCIDENTAL_PRINTED, NoteReading, Reason
from exercises.music.score import NoteRef, count_text
from exercises.music.voice import listed
from exercises.parts import part_of, readings_of


@dataclass(frozen=True, slots=True)
class NoteReason:
    """How one note is read.

    place   "bar 2, beat 3"
    name    "F♯"; "rest"
    spoken  "F sharp"
    sign    what is printed in front of it, "(♮)" for a reminder, "" for nothing
    cause   where the sign stands that decides, "" for the note itself or the key signature
    """

    index: int
    place: str
    name: str
    spoken: str
    sign: str
    words: str
    cause: str
    altered: bool


@dataclass(frozen=True, slots=True)
class WatchNote:
    """One altered letter and everywhere it stands: "F sharp", ("bar 1, beats 2 and 4", "bar 3, beat 1")."""

    name: str
    spoken: str
    places: tuple[str, ...]
    hidden: int

    @property
    def is_hidden_somewhere(self) -> bool:
        """Somewhere no sign is printed at the note: what is easiest to miss."""
        return self.hidden > 0


@dataclass(frozen=True, slots=True)
class SharedReason:
    """A reason and every place where it holds: "bar 1, beat 2; bar 7, beat 3"."""

    places: str
    words: str


@dataclass(frozen=True, slots=True)
class ReadingGuide:
    """Everything to know before playing, in words."""

    key: str
    watch: tuple[WatchNote, ...]
    notes: tuple[NoteReason, ...]

    @property
    def altered(self) -> tuple[NoteReason, ...]:
        return tuple(note for note in self.notes if note.altered)

    @property
    def told(self) -> list[dict[str, str | int]]:
        """For the page's script: what is said of each note when it is chosen."""
        return [
            {
                "index": note.index,
                "place": note.place.capitalize(),
                "name": note.spoken,
                "words": note.words,
            }
            for note in self.notes
        ]

    @property
    def reasons(self) -> tuple[SharedReason, ...]:
        """Why altered notes sound as they do; a reason that holds for several is said once."""
        places: dict[str, list[str]] = {}
        for note in self.altered:
            places.setdefault(note.words, []).append(note.place)
        return tuple(SharedReason("; ".join(found), words) for words, found in places.items())


def reading_guide(*, line: ExerciseLine, instrument: str) -> ReadingGuide:
    """Reasons and watch notes of a part. Raises MusicError."""
    part = part_of(line=line, instrument=instrument)
    readings = readings_of(part, line=line)
    return ReadingGuide(
        key=key_words(part.line.fifths) if part.instrument.pitched else "",
        watch=watch_notes(part, readings),
        notes=tuple(_reason(part, reading) for reading in readings if reading.reason is not Reason.REST),
    )


def _reason(part: Part, reading: NoteReading) -> NoteReason:
    pitch = part.line.notes[reading.ref.index].pitch
    sign = ACCIDENTAL_PRINTED[reading.accidental] if reading.accidental else ""
    pitched = part.instrument.pitched and pitch is not None
    return NoteReason(
        index=reading.ref.index,
        place=place_words(part, reading.ref),
        name=pitch.printed_letter if pitch and pitched else "",
        spoken=(pitch.spoken_in_full if sign == "♮" else pitch.spoken) if pitch and pitched else _("stroke"),
        sign=f"({sign})" if reading.courtesy else sign,
        words=reading.words,
        cause=place_words(part, reading.cause) if reading.cause else "",
        altered=reading.altered,
    )


def place_words(part: Part, ref: NoteRef) -> str:
    """ "bar 2, beat 3"."""
    return _("bar {bar}, {count}").format(bar=ref.bar, count=count_text(ref.beat, part.line.metre))


def watch_notes(part: Part, readings: Sequence[NoteReading]) -> tuple[WatchNote, ...]:
    """Altered letters in the order in which they are met, with every place where each stands."""
    found: dict[str, list[NoteReading]] = {}
    printed: dict[str, str] = {}
    for reading in readings:
        pitch = part.line.notes[reading.ref.index].pitch
        if not reading.altered or pitch is None or reading.reason is Reason.TIE:
            continue
        natural = pitch.alter == 0
        spoken = pitch.spoken_in_full
        found.setdefault(spoken, []).append(reading)
        printed[spoken] = f"{pitch.letter}♮" if natural else pitch.printed_letter
    return tuple(
        WatchNote(
            name=printed[spoken],
            spoken=spoken,
            places=tuple(_places(part, group)),
            hidden=sum(reading.accidental is None for reading in group),
        )
        for spoken, group in found.items()
    )


def _places(part: Part, readings: Sequence[NoteReading]) -> Iterator[str]:
    """One entry a bar: "bar 1, beats 2 and 4"."""
    metre = part.line.metre
    bars: dict[int, list[Fraction]] = {}
    for reading in readings:
        bars.setdefault(reading.ref.bar, []).append(reading.ref.beat)
    for bar, beats in bars.items():
        numbers = [1 + (beat - 1) / metre.count_unit for beat in beats]
        if len(numbers) > 1 and all(number.denominator == 1 for number in numbers):
            words = _("bar {bar}, beats {numbers}")
            yield words.format(bar=bar, numbers=listed([str(number) for number in numbers]))
        else:
            places = listed([count_text(beat, metre) for beat in beats])
            yield _("bar {bar}, {count}").format(bar=bar, count=places)
