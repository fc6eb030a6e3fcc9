"""What does one instrument read? Key, transposition, spelling, octave, and what to know about it.

Everything moves by spelled interval. One octave shift is chosen for the whole part, never per note, so that
the contour survives; when an exercise has two lines, `make_parts` fits them together.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from exercises.music.errors import MusicError
from exercises.music.fitting import RangeVerdict, best_octave
from exercises.music.instruments import INSTRUMENTS, InstrumentFacts, Range, Ranges, instrument
from exercises.music.keys import (
    DEFAULT_KEY_LIMIT,
    MOST_FIFTHS,
    fifths_of,
    friendlier_key,
    key_alters,
    key_words,
)
from exercises.music.pitch import HIGHEST_OCTAVE, LOWEST_OCTAVE, OCTAVE, Interval, Pitch
from exercises.music.score import (
    Line,
    Note,
    NoteRef,
    count_text,
    with_pitches,
    with_rests,
)

__all__ = [
    "Part",
    "Range",
    "RangeVerdict",
    "Ranges",
    "choose_octave",
    "judged_by",
    "make_part",
    "make_parts",
    "move_to_key",
    "to_concert",
]

#: Where an unpitched part is written: third space of the percussion clef.
UNPITCHED = Pitch("C", 0, 5)
#: Letters with a sign that beginners do not meet outside their keys: E sharp, B sharp, C flat, F flat.
STRAY_SPELLINGS = frozenset({("E", 1), ("B", 1), ("C", -1), ("F", -1)})


@dataclass(frozen=True, slots=True)
class Part:
    """One line as one instrument reads it.

    line      in WRITTEN pitch, with the written key
    octaves   octave shift against the plain transposition
    outside   notes beyond the extended range, never silent: the director decides about each
    stretch   notes in the extended range only
    warnings  sentences for the director
    """

    instrument_id: str
    line: Line
    octaves: int
    verdict: RangeVerdict
    outside: tuple[NoteRef, ...]
    stretch: tuple[NoteRef, ...]
    warnings: tuple[str, ...]

    @property
    def instrument(self) -> InstrumentFacts:
        return INSTRUMENTS[self.instrument_id]

    def sounding_midi(self) -> tuple[int | None, ...]:
        """MIDI number that sounds for each note; None for a rest and for every note of an unpitched part."""
        if not self.instrument.pitched:
            return (None,) * len(self.line.notes)
        shift = self.instrument.to_sounding.semitones
        return tuple(note.pitch.midi + shift if note.pitch else None for note in self.line.notes)


def make_part(
    line: Line,
    instrument_id: str,
    *,
    octave: int | None = None,
    ranges: Ranges | None = None,
    key_limit: int = DEFAULT_KEY_LIMIT,
    left_out: frozenset[int] = frozenset(),
    instead: Mapping[int, Pitch] | None = None,
) -> Part:
    """The part of one concert line.

    octave     octave shift to use instead of choosing one by range (0: as the interval gives it)
    ranges     this band's or seat's own ranges, in written pitch
    key_limit  most sharps or flats before the enharmonic key is taken
    left_out   indexes of notes that this part rests on
    instead    written pitches to play in place of the line's own, by index
    Raises MusicError for a broken line, an unknown instrument or a note that leaves the printable octaves.
    """
    reader = instrument(instrument_id)
    line.validate()
    if not reader.pitched:
        return _unpitched(line, reader)
    fitted = ranges or reader.ranges
    assert fitted is not None  # noqa: S101 - a pitched instrument has ranges
    written, breaks = _transposed(line, reader, key_limit)
    shift = best_octave(_pitches([written]), fitted) if octave is None else octave
    written = _printable(_shifted(written, shift))
    written = with_pitches(with_rests(written, left_out), instead or {})
    return _judged(written, reader, fitted, shift, breaks, key_limit)


def make_parts(
    lines: Sequence[Line],
    instrument_id: str,
    *,
    octave: int | None = None,
    ranges: Ranges | None = None,
    key_limit: int = DEFAULT_KEY_LIMIT,
) -> tuple[Part, ...]:
    """The parts of all lines of an exercise, one octave shift for all: B lies where A lies."""
    if octave is None and instrument(instrument_id).pitched:
        octave = choose_octave(lines, instrument_id, ranges=ranges, key_limit=key_limit)
    return tuple(
        make_part(line, instrument_id, octave=octave, ranges=ranges, key_limit=key_limit) for line in lines
    )


def choose_octave(
    lines: Sequence[Line],
    instrument_id: str,
    *,
    ranges: Ranges | None = None,
    key_limit: int = DEFAULT_KEY_LIMIT,
) -> int:
    """The one octave shift in which these lines are easiest to play (`fitting.best_octave`)."""
    reader = instrument(instrument_id)
    fitted = ranges or reader.ranges
    if fitted is None:
        return 0
    for line in lines:
        line.validate()
    written = [_transposed(line, reader, key_limit)[0] for line in lines]
    return best_octave(_pitches(written), fitted)


def _pitches(lines: Sequence[Line]) -> list[Pitch]:
    return [note.pitch for line in lines for note in line.notes if note.pitch]


def to_concert(line: Line, written_for: str) -> Line:
    """A line that was written for this instrument, in concert pitch with its spelling kept.

    Making the part of the same instrument with `octave=0` gives the line back.
    """
    reader = instrument(written_for)
    if not reader.pitched:
        raise MusicError(f"{reader.name} has no pitch: choose the instrument whose notes these are.")
    return moved_by(line, reader.to_sounding)


def moved_by(line: Line, interval: Interval) -> Line:
    """The line with its key moved by a spelled interval, spelling kept (unless the key would leave the
    page).
    """
    plain_key = line.fifths + fifths_of(interval)
    key = friendlier_key(plain_key, limit=MOST_FIFTHS)
    return _printable(_moved(line, interval + Interval((plain_key - key) // 12, 0), fifths=key))


def move_to_key(line: Line, fifths: int) -> Line:
    """The concert line in another key, moved by the smaller interval (down on a tie)."""
    up = _interval_between(line.fifths, fifths)
    down = up + -OCTAVE
    moved = _moved(line, up if up.semitones < -down.semitones else down, fifths=fifths)
    return _printable(_respelled(moved))


def _interval_between(old: int, new: int) -> Interval:
    """The interval from one tonic up to the next tonic above it."""
    fifths = new - old
    octaves = 7 * fifths // 12
    return Interval(4 * fifths - 7 * octaves, 7 * fifths - 12 * octaves)


def _moved(line: Line, interval: Interval, *, fifths: int) -> Line:
    def moved(note: Note) -> Note:
        return replace(note, pitch=note.pitch.moved(interval)) if note.pitch else note

    return replace(line, bars=tuple(tuple(map(moved, bar)) for bar in line.bars), fifths=fifths)


def _respelled(line: Line) -> Line:
    def plain(note: Note) -> Note:
        return replace(note, pitch=plain_spelling(note.pitch, line.fifths)) if note.pitch else note

    return replace(line, bars=tuple(tuple(map(plain, bar)) for bar in line.bars))


def _printable(line: Line) -> Line:
    """The line, if all of it lies in the octaves that can be printed."""
    for note, ref in zip(line.notes, line.refs(), strict=True):
        if note.pitch is not None and not LOWEST_OCTAVE <= note.pitch.octave <= HIGHEST_OCTAVE:
            raise MusicError(
                f"Bar {ref.bar}: this octave takes a note beyond what can be printed. Choose another octave.",
                line=line.label,
                bar=ref.bar,
                beat=ref.beat,
            )
    return line


def _transposed(line: Line, reader: InstrumentFacts, key_limit: int) -> tuple[Line, tuple[str, ...]]:
    """The line in written pitch at the plain interval, and what respelling did to its half steps."""
    plain_key = line.fifths + fifths_of(reader.from_concert)
    key = friendlier_key(plain_key, limit=key_limit)
    letter_steps = (plain_key - key) // 12  # twelve fewer fifths: one letter higher for the same sound

    moved = _moved(line, reader.from_concert + Interval(letter_steps, 0), fifths=key)
    written = _respelled(moved)
    return written, _half_step_warnings(line, written)


def plain_spelling(pitch: Pitch, fifths: int) -> Pitch:
    """The same sound without double signs, and without stray spellings unless the key has them."""
    while (pitch.letter, pitch.alter) in STRAY_SPELLINGS or abs(pitch.alter) > 1:
        if key_alters(fifths).get(pitch.letter, 0) == pitch.alter:
            break
        pitch = pitch.respelled(1 if pitch.alter > 0 else -1)
    return pitch


def _half_step_warnings(concert: Line, written: Line) -> tuple[str, ...]:
    """Where neighbours keep one letter in concert pitch and change it in the part, or the other way."""
    found: list[str] = []
    pairs = list(zip(concert.notes, written.notes, concert.refs(), strict=True))
    for (before, w_before, _), (after, w_after, ref) in pairwise(pairs):
        if not (before.pitch and after.pitch and w_before.pitch and w_after.pitch):
            continue
        if abs(before.pitch.midi - after.pitch.midi) != 1:
            continue
        steps = after.pitch.height - before.pitch.height
        if w_after.pitch.height - w_before.pitch.height != steps:
            found.append(
                f"Bar {ref.bar}, {count_text(ref.beat, concert.metre)}: the half step "
                f"{before.pitch.spoken} to {after.pitch.spoken} (concert) is written "
                f"{w_before.pitch.spoken} to {w_after.pitch.spoken} in this part."
            )
    return tuple(found)


def _shifted(line: Line, octaves: int) -> Line:
    return _moved(line, Interval(7 * octaves, 12 * octaves), fifths=line.fifths)


def judged_by(part: Part, ranges: Ranges) -> Part:
    """The same part as it is for a player with these ranges; its notes and its octave stay.

    Warnings about the range are made anew, others are kept. A part without pitches suits everybody.
    """
    if not part.instrument.pitched:
        return part
    return _with_verdict(part, ranges, others=part.warnings[len(part.outside) :])


def _judged(
    line: Line, reader: InstrumentFacts, ranges: Ranges, octaves: int, breaks: tuple[str, ...], key_limit: int
) -> Part:
    others = breaks
    if abs(line.fifths) > key_limit:
        too_many = f"The key of this part has {key_words(line.fifths)}. Choose another concert key."
        others = (too_many, *breaks)
    part = Part(reader.id, line, octaves, RangeVerdict.COMFORTABLE, (), (), ())
    return _with_verdict(part, ranges, others=others)


def _with_verdict(part: Part, ranges: Ranges, *, others: tuple[str, ...]) -> Part:
    placed: dict[RangeVerdict, list[tuple[Pitch, NoteRef]]] = {verdict: [] for verdict in RangeVerdict}
    for note, ref in zip(part.line.notes, part.line.refs(), strict=True):
        if note.pitch is not None:
            placed[RangeVerdict.of(note.pitch, ranges)].append((note.pitch, ref))
    outside, stretch = placed[RangeVerdict.OUTSIDE], placed[RangeVerdict.STRETCH]
    beyond = (_outside_text(pitch, ref, part.line, ranges.extended) for pitch, ref in outside)
    return replace(
        part,
        verdict=RangeVerdict.OUTSIDE
        if outside
        else RangeVerdict.STRETCH
        if stretch
        else RangeVerdict.COMFORTABLE,
        outside=tuple(ref for _, ref in outside),
        stretch=tuple(ref for _, ref in stretch),
        warnings=(*beyond, *others),
    )


def _outside_text(pitch: Pitch, ref: NoteRef, line: Line, extended: Range) -> str:
    above = pitch.midi > extended.high.midi
    edge = f"above {extended.high.printed}" if above else f"below {extended.low.printed}"
    return (
        f"Bar {ref.bar}, {count_text(ref.beat, line.metre)}: {pitch.printed} is {edge}, outside this range."
    )


def _unpitched(line: Line, reader: InstrumentFacts) -> Part:
    """The rhythm of the line on one line of the staff."""
    bars = tuple(
        tuple(replace(note, pitch=UNPITCHED if note.pitch else None) for note in bar) for bar in line.bars
    )
    return Part(reader.id, replace(line, bars=bars, fifths=0), 0, RangeVerdict.COMFORTABLE, (), (), ())
