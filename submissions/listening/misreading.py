"""How may the part have been misread?

Definition: the part is read again under each misreading a beginner makes: the key forgotten, its last
sharp or flat forgotten, a sign taken for one note only, a sign kept past the barline, a natural missed,
one note always fingered as its neighbour. Each reading says what would sound.

Assumptions: standard notation's rules for signs; where the printed page is not known, every likely printing
is read.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, log

from submissions.listening.accidental_rules import alters_read
from submissions.listening.evidence import Cause
from submissions.listening.score import Score, WrittenNote
from submissions.listening.spelling import printings

MOST_KEY_READINGS = 4
FEWEST_FINGERED = 3
"""A note that comes less often shows no habit of fingering."""


@dataclass(frozen=True, slots=True)
class MisreadLine:
    """The part as a student under one misreading would sound it."""

    cause: Cause
    sounding: tuple[int, ...]
    printed: Score
    """The part as it is, or is likeliest, printed."""
    detail: str = ""
    """For a neighbour fingering, the note that is always wrong."""
    log_chance: float = 0.0
    """That the part is printed in a way that this misreading makes sound so."""


def key_readings(score: Score) -> list[MisreadLine]:
    """The likeliest readings that misread the key signature alone."""
    keys = (Cause.KEY_FORGOTTEN, Cause.LAST_SHARP_FORGOTTEN, Cause.LAST_FLAT_FORGOTTEN)
    found = {reading.sounding: reading for reading in readings(score) if reading.cause in keys}
    return list(found.values())[:MOST_KEY_READINGS]


def readings(score: Score, *, heard: Mapping[int, int] | None = None) -> list[MisreadLine]:
    """Every misreading that changes at least one note, of every way the part may be printed.

    Sharps or flats that are not known are taken as the pitches in `heard`, by note, would explain them.
    """
    found: dict[tuple[Cause, tuple[int, ...]], MisreadLine] = {}
    written = tuple(score.midis)
    printed = printings(score, steps=_steps(score, heard or {}))
    for printing in printed:
        for reading in _misread(printing.score):
            known = found.get((reading.cause, reading.sounding))
            chance = printing.log_chance
            if known is not None:
                reading, chance = known, log(exp(known.log_chance) + exp(chance))
            if reading.sounding != written:
                found[reading.cause, reading.sounding] = replace(reading, log_chance=chance)
    return [*found.values(), *_fingerings(printed[0].score)]


def _steps(score: Score, heard: Mapping[int, int]) -> dict[tuple[int, int], int]:
    """How signs must be spelled for the wrong pitches to come of a sign not carried, or carried too far."""
    bars = [int(note.start_beat / score.beats_per_bar) + 1 for note in score.notes]
    places = list(zip(bars, score.midis, strict=True))
    steps: dict[tuple[int, int], int] = {}
    for note, pitch in heard.items():
        step = pitch - score.notes[note].midi
        if abs(step) == 1:
            if places[note] in places[:note]:
                steps.setdefault(places[note], step)
            if (bars[note] - 1, pitch) in places:
                steps.setdefault((bars[note] - 1, pitch), -step)
    return steps


def _misread(spelled: Score) -> list[MisreadLine]:
    fifths = spelled.fifths or 0
    written = [note.written for note in spelled.notes if note.written is not None]
    causes = [Cause.SIGN_NOT_CARRIED, Cause.SIGN_CARRIED_OVER_BARLINE, Cause.NATURAL_MISSED]
    if fifths:
        last = Cause.LAST_SHARP_FORGOTTEN if fifths > 0 else Cause.LAST_FLAT_FORGOTTEN
        causes = [Cause.KEY_FORGOTTEN, last, *causes]

    def sounding(alters: Sequence[int]) -> tuple[int, ...]:
        read = zip(spelled.notes, written, alters, strict=True)
        return tuple(note.midi - at.alter + alter for note, at, alter in read)

    return [
        MisreadLine(cause, sounding(alters_read(written, fifths, broken=cause)), spelled) for cause in causes
    ]


def _fingerings(score: Score) -> Iterator[MisreadLine]:
    """One note of the part, every time a half step too high or too low."""
    for midi in sorted(set(score.midis)):
        if score.midis.count(midi) < FEWEST_FINGERED:
            continue
        note = next(note for note in score.notes if note.midi == midi)
        for step in (-1, 1):
            yield MisreadLine(
                Cause.NEIGHBOUR_FINGERING,
                tuple(m + step if m == midi else m for m in score.midis),
                score,
                detail=name_of(note.written),
            )


def name_of(note: WrittenNote | None) -> str:
    """ "F-sharp"."""
    if note is None:
        return "this note"
    sign = {-2: "-double-flat", -1: "-flat", 0: "", 1: "-sharp", 2: "-double-sharp"}[note.alter]
    return f"{note.letter}{sign}"
