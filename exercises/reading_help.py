"""What a page says about a part so that it can be read: reasons, watch notes, letter names, fingerings.

View models for the templates _line.html, _reading_guide.html, _names.html and _fingerings.html, on staff
pages and on students' pages alike.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

from bandroom.people.instruments import Instrument
from exercises.models import ExerciseLine
from exercises.music.counting import CountKind, CountMark, counts, names_in_rhythm
from exercises.music.engraving import Engraving, line_svg
from exercises.music.keys import key_words
from exercises.music.part import Part
from exercises.music.reading import SIGN_PRINTED, NoteReading, Reason, read_part
from exercises.music.score import NoteRef, count_text
from exercises.parts import Layout, engraved_line, part_of, part_policy

#: Rows under a system, in pixels below its ink.
NAMES_BELOW, COUNTS_BELOW = 20, 36
ROWS_ROOM = 46
COUNTS_ALONE_BELOW = 18
#: Free space between a name and the line that holds it.
HELD_FROM, HELD_TO = 15, 17


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """A line for a wide and a narrow screen; both stand on the page, one is shown."""

    label: str
    caption: str
    tempo: int
    wide: SafeString
    narrow: SafeString


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
    def reasons(self) -> tuple[SharedReason, ...]:
        """Why altered notes sound as they do; a reason that holds for several is said once."""
        places: dict[str, list[str]] = {}
        for note in self.altered:
            places.setdefault(note.words, []).append(note.place)
        return tuple(SharedReason("; ".join(found), words) for words, found in places.items())


@dataclass(frozen=True, slots=True)
class NameInRhythm:
    """One letter name to say: "F sharp" on beat 2 of bar 1, held for a number of beats."""

    name: str
    spoken: str
    bar: int
    beat: str
    held: str


def drawn_line(
    *,
    line: ExerciseLine,
    instrument: str,
    prefix: str,
    tempo: int | None = None,
    names: bool = False,
    counted: bool = False,
) -> DrawnLine:
    """The line for both screens, with letter names and counts under the notes if asked.

    prefix  begins the ids of both drawings, which add "w" and "n" to it
    Raises MusicError.
    """
    rows = names or counted
    wide, narrow = (Layout.READING, Layout.READING_PHONE) if rows else (Layout.DESK, Layout.PHONE)
    drawings = []
    for layout, letter, only in ((wide, "w", "only-wide"), (narrow, "n", "only-narrow")):
        engraving = engraved_line(line=line, instrument=instrument, layout=layout, prefix=f"{prefix}{letter}")
        part = part_of(line=line, instrument=instrument)
        drawings.append(_drawn(engraving, part, only, names=names, counted=counted))
    return DrawnLine(
        label=line.label,
        caption=line.caption,
        tempo=tempo or line.tempo_bpm,
        wide=drawings[0],
        narrow=drawings[1],
    )


def _drawn(engraving: Engraving, part: Part, only: str, *, names: bool, counted: bool) -> SafeString:
    overlay = names_overlay(engraving, part, names=names, counted=counted) if names or counted else ""
    label = f"Line {part.line.label} for {Instrument(part.instrument_id).label}: {spoken_line(part)}"
    drawn = line_svg(
        engraving,
        overlay=overlay,
        label=label,
        css_class=only,
        pad_bottom=ROWS_ROOM if overlay else 6.0,
    )
    return mark_safe(drawn)  # noqa: S308 - the engine and format_html escape all that is drawn


def spoken_line(part: Part) -> str:
    """The notes in words, for who hears the page: "G, F sharp, rest, A"."""
    if not part.instrument.pitched:
        return "the rhythm on one drum"
    return ", ".join(note.pitch.spoken if note.pitch else "rest" for note in part.line.notes)


def names_overlay(engraving: Engraving, part: Part, *, names: bool, counted: bool) -> SafeString:
    """Letter names and counts under the notes, in the drawing's own pixels."""
    rows = []
    if names:
        rows.append(_name_row(engraving, part))
    if counted:
        below = COUNTS_BELOW if names else COUNTS_ALONE_BELOW
        rows.append(_count_row(engraving, part, below))
    drawn = format_html_join("", "{}", ((row,) for row in rows))
    return format_html('<g class="names" aria-hidden="true">{}</g>', drawn)


def _name_row(engraving: Engraving, part: Part) -> SafeString:
    drawn = []
    for said in names_in_rhythm(part):
        place = engraving.notes[said.note]
        y = engraving.systems[place.system].ink_bottom + NAMES_BELOW
        drawn.append(format_html('<text x="{}" y="{}">{}</text>', _px(place.x), _px(y), said.printed))
        drawn.extend(_held(engraving, place.index, place.start, said.beats, y - 5))
    for place in engraving.notes:
        if place.tie_in and place.name:
            y = engraving.systems[place.system].ink_bottom + NAMES_BELOW - 5
            end = max(place.x + 9, _x_at(engraving, place.index, place.start + place.beats) - HELD_TO)
            drawn.append(
                format_html('<path class="names__held" d="M{} {}H{}"/>', _px(place.x - 9), _px(y), _px(end))
            )
    return format_html_join("", "{}", ((each,) for each in drawn))


def _held(
    engraving: Engraving, index: int, start: Fraction, beats: Fraction, y: float
) -> Iterator[SafeString]:
    """A line from a name to where its sound ends, for a name held longer than a beat."""
    place = engraving.notes[index]
    if beats <= 1:
        return
    bar_end = next(bar.right for bar in engraving.bars if bar.bar == place.bar and bar.system == place.system)
    end = min(_x_at(engraving, index, start + beats), bar_end)
    first, last = place.x + HELD_FROM, end - HELD_TO
    if last - first > 6:
        yield format_html('<path class="names__held" d="M{} {}H{}"/>', _px(first), _px(y), _px(last))


def _count_row(engraving: Engraving, part: Part, below: int) -> SafeString:
    def drawn(mark: CountMark) -> SafeString:
        place = engraving.notes[mark.note]
        y = engraving.systems[place.system].ink_bottom + below
        x = place.x if mark.start == place.start else _x_at(engraving, mark.note, mark.start)
        label = f"({mark.label})" if mark.kind is CountKind.REST else mark.label
        return format_html('<text class="names__count" x="{}" y="{}">{}</text>', _px(x), _px(y), label)

    return format_html_join("", "{}", ((drawn(mark),) for mark in counts(part.line) if mark.label))


def _x_at(engraving: Engraving, index: int, start: Fraction) -> float:
    """Where a moment inside or at the end of a note stands: between it and what follows on its system."""
    place = engraving.notes[index]
    following = engraving.notes[index + 1] if index + 1 < len(engraving.notes) else None
    if following is not None and following.system == place.system and following.bar == place.bar:
        end = following.x
    else:
        end = next(bar.right for bar in engraving.bars if bar.bar == place.bar and bar.system == place.system)
    share = min((start - place.start) / place.beats, Fraction(1))
    return place.x + (end - place.x) * float(share)


def _px(value: float) -> str:
    return f"{value:.1f}"


def reading_guide(*, line: ExerciseLine, instrument: str) -> ReadingGuide:
    """Reasons and watch notes of a part. Raises MusicError."""
    part = part_of(line=line, instrument=instrument)
    courtesy = part_policy(line.exercise.band).courtesy_signs
    readings = read_part(part, courtesy=courtesy)
    return ReadingGuide(
        key=key_words(part.line.fifths) if part.instrument.pitched else "",
        watch=watch_notes(part, readings),
        notes=tuple(_reason(part, reading) for reading in readings if reading.reason is not Reason.REST),
    )


def _reason(part: Part, reading: NoteReading) -> NoteReason:
    pitch = part.line.notes[reading.ref.index].pitch
    sign = SIGN_PRINTED[reading.sign] if reading.sign else ""
    pitched = part.instrument.pitched and pitch is not None
    return NoteReason(
        index=reading.ref.index,
        place=place_words(part, reading.ref),
        name=pitch.printed_letter if pitch and pitched else "",
        spoken=_with_natural(pitch.spoken, sign) if pitch and pitched else "stroke",
        sign=f"({sign})" if reading.courtesy else sign,
        words=reading.words,
        cause=place_words(part, reading.cause) if reading.cause else "",
        altered=reading.altered,
    )


def _with_natural(spoken: str, sign: str) -> str:
    """ "F natural" where a natural is printed: the letter alone would say nothing of it."""
    return f"{spoken} natural" if sign == "♮" else spoken


def place_words(part: Part, ref: NoteRef) -> str:
    """ "bar 2, beat 3"."""
    return f"bar {ref.bar}, {count_text(ref.beat, part.line.metre)}"


def watch_notes(part: Part, readings: Sequence[NoteReading]) -> tuple[WatchNote, ...]:
    """Altered letters in the order in which they are met, with every place where each stands."""
    found: dict[str, list[NoteReading]] = {}
    printed: dict[str, str] = {}
    for reading in readings:
        pitch = part.line.notes[reading.ref.index].pitch
        if not reading.altered or pitch is None or reading.reason is Reason.TIE:
            continue
        natural = pitch.alter == 0
        spoken = f"{pitch.letter} natural" if natural else pitch.spoken
        found.setdefault(spoken, []).append(reading)
        printed[spoken] = f"{pitch.letter}♮" if natural else pitch.printed_letter
    return tuple(
        WatchNote(
            name=printed[spoken],
            spoken=spoken,
            places=tuple(_places(part, group)),
            hidden=sum(reading.sign is None for reading in group),
        )
        for spoken, group in found.items()
    )


def _places(part: Part, readings: Sequence[NoteReading]) -> Iterator[str]:
    """One entry a bar: "bar 1, beats 2 and 4"."""
    bars: dict[int, list[str]] = {}
    for reading in readings:
        count = count_text(reading.ref.beat, part.line.metre)
        bars.setdefault(reading.ref.bar, []).append(count)
    for bar, places in bars.items():
        if len(places) > 1 and all(place.startswith("beat ") for place in places):
            beats = [place.removeprefix("beat ") for place in places]
            yield f"bar {bar}, beats {', '.join(beats[:-1])} and {beats[-1]}"
        else:
            yield f"bar {bar}, {' and '.join(places)}"


def names_of(*, line: ExerciseLine, instrument: str) -> tuple[NameInRhythm, ...]:
    """Letter names in rhythm, in words; empty for a drum part. Raises MusicError."""
    part = part_of(line=line, instrument=instrument)
    refs = part.line.refs()
    return tuple(
        NameInRhythm(
            name=said.printed,
            spoken=said.said,
            bar=refs[said.note].bar,
            beat=count_text(refs[said.note].beat, part.line.metre),
            held="" if said.beats <= 1 else f"{said.beats} beats" if said.beats.denominator == 1 else "",
        )
        for said in names_in_rhythm(part)
    )
