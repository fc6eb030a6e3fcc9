"""What is said aloud? The count-off, the counts under the notes, and letter names in rhythm.

Common practice, no source. Counts go in quarter notes (eighths in 6/8 and 3/8), never in half notes. The
syllables are data, because directors use different systems.
"""

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from exercises.music.errors import MusicError
from exercises.music.part import Part
from exercises.music.score import Line, Metre
from exercises.music.voice import gettext as _
from exercises.music.voice import gettext_noop

#: Tempos offered to beginners, in quarter notes a minute.
TEMPOS = (50, 60, 72, 84, 96)
SLOWEST_TEMPO, FASTEST_TEMPO = 40, 120
READY, PLAY = gettext_noop("ready"), gettext_noop("play")


@dataclass(frozen=True, slots=True)
class Syllables:
    """What is said between the numbers, by part of a count."""

    half: str = "&"
    first_quarter: str = "e"
    last_quarter: str = "a"
    rest: str = ""

    def label(self, count: Fraction) -> str:
        """ "2" for the second count, "&" for the half after it."""
        whole, part = divmod(count, 1)
        between = {
            Fraction(0): str(whole),
            Fraction(1, 2): self.half,
            Fraction(1, 4): self.first_quarter,
            Fraction(3, 4): self.last_quarter,
        }
        return between.get(part, "")


NUMBERS = Syllables()


@dataclass(frozen=True, slots=True)
class Count:
    """One spoken count before the line.

    start    in quarter notes from the first note of the line (the pickup, if there is one), so negative
    said     False where only the click sounds
    breathe  wind players take their breath here
    """

    label: str
    start: Fraction
    said: bool
    accent: bool
    breathe: bool


def count_off(
    metre: Metre, *, bars: int | None = None, slow: bool = False, lead_in: Fraction = Fraction(0)
) -> tuple[Count, ...]:
    """What the director counts before the line begins.

    bars     0, 1 or 2 bars; None takes what fits the metre (two bars where one has fewer than four counts)
    slow     for a first time: the first of two bars is counted at half speed, 1 - 2 -
    lead_in  for a pickup: quarter notes from the bar line to its first note; a full bar is counted, then up
             to it
    The last two counts say "ready" and "play"; wind players breathe on the last.
    """
    counts_in_bar = int(metre.quarters / metre.count_unit)
    if bars is None:
        bars = 2 if slow or counts_in_bar < 4 else 1
    if bars not in (0, 1, 2):
        raise MusicError("A count-off has 0, 1 or 2 bars.")
    labels = [str(number) for _bar in range(bars) for number in range(1, counts_in_bar + 1)]
    if lead_in:
        labels = _pickup_labels(counts_in_bar, int(lead_in // metre.count_unit))
    elif len(labels) >= 2:
        labels[-2:] = [_(READY), _(PLAY)]
    said = [True] * len(labels)
    if slow and bars == 2 and counts_in_bar == 4 and not lead_in:
        labels[:4], said[:4] = ["1", "", "2", ""], [True, False, True, False]
    first = -len(labels) * metre.count_unit
    return tuple(
        Count(
            label=label,
            start=first + place * metre.count_unit,
            said=spoken,
            accent=place % counts_in_bar == 0,
            breathe=place == len(labels) - 1,
        )
        for place, (label, spoken) in enumerate(zip(labels, said, strict=True))
    )


def _pickup_labels(counts_in_bar: int, before_pickup: int) -> list[str]:
    """A full bar, then the counts up to the pickup, the last of them "ready"."""
    labels = [str(number) for number in range(1, counts_in_bar + 1)]
    labels += [str(number) for number in range(1, before_pickup + 1)]
    labels[-1] = _(READY)
    return labels


class CountKind(StrEnum):
    START = "start"
    HELD = "held"
    REST = "rest"


@dataclass(frozen=True, slots=True)
class CountMark:
    """One count under the line: where a note starts, where it is held on, or a silent one.

    note   index of the note it belongs to
    start  quarter notes from the beginning of the line
    """

    note: int
    label: str
    start: Fraction
    kind: CountKind


def counts(line: Line, *, syllables: Syllables = NUMBERS) -> tuple[CountMark, ...]:
    """The counts under the notes: a note is named by the count it starts on and held through the others."""
    marks: list[CountMark] = []
    unit = line.metre.count_unit
    for note, ref, tied in zip(line.notes, line.refs(), line.tied_in(), strict=True):
        kind = CountKind.REST if note.is_rest else CountKind.HELD if tied else CountKind.START
        place = 1 + (ref.beat - 1) / unit
        marks.append(CountMark(ref.index, syllables.label(place), ref.start, kind))
        held = Fraction(int(place) + 1)
        while held < place + note.beats / unit:
            later = CountKind.REST if note.is_rest else CountKind.HELD
            marks.append(
                CountMark(ref.index, syllables.label(held), ref.start + (held - place) * unit, later)
            )
            held += 1
    return tuple(marks)


@dataclass(frozen=True, slots=True)
class SpokenName:
    """One letter name said in rhythm, held for `beats` quarter notes (ties joined).

    said     "B flat": always the alteration that sounds, also where nothing is printed at the note
    printed  "B♭"
    """

    note: int
    said: str
    printed: str
    start: Fraction
    beats: Fraction


def names_in_rhythm(part: Part) -> tuple[SpokenName, ...]:
    """Letter names of a part; rests are silent, a tied note is not named again. Empty for a drum part."""
    names: list[SpokenName] = []
    if not part.instrument.pitched:
        return ()
    for note, ref, tied in zip(part.line.notes, part.line.refs(), part.line.tied_in(), strict=True):
        if note.pitch is None:
            continue
        if tied:
            before = names.pop()
            names.append(
                SpokenName(before.note, before.said, before.printed, before.start, before.beats + note.beats)
            )
        else:
            names.append(
                SpokenName(ref.index, note.pitch.spoken, note.pitch.printed_letter, ref.start, note.beats)
            )
    return tuple(names)
