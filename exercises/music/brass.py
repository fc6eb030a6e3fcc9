"""Which valves or which slide position? Computed from the harmonic series and the tubing that is added.

A pressed valve adds tubing and lowers the whole harmonic series by a fixed number of semitones (valve 2 by
one, 1 by two, 3 by three); a slide position lowers it by one semitone each. The fingering of a note is the
one with the least added tubing that reaches it on a harmonic that is in tune. Physics, so nothing here is
from a chart.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from exercises.music.pitch import Pitch
from exercises.music.voice import gettext as _
from exercises.music.voice import gettext_noop, listed, ngettext

#: Tubing of each valve combination in semitones, 1-2 before 3 alone because it is better in tune.
VALVES: Mapping[str, int] = {"0": 0, "2": 1, "1": 2, "1-2": 3, "3": 3, "2-3": 4, "1-3": 5, "1-2-3": 6}
#: A fourth valve stands in for 1-3, and with 2 for 1-2-3, where the sums of three valves are sharp.
FOURTH_VALVE: Mapping[str, str] = {"1-3": "4", "1-2-3": "2-4"}
SLIDE: Mapping[str, int] = {str(position): position - 1 for position in range(1, 8)}
#: With the trigger: position and the notes it is used for (longer positions, so they lie further out).
TRIGGER: Mapping[int, str] = {48: "T1", 41: "T1", 47: "T2", 40: "T2"}

_POSITIONS: Mapping[str, str] = {
    "1": gettext_noop("1st position"),
    "2": gettext_noop("2nd position"),
    "3": gettext_noop("3rd position"),
    "4": gettext_noop("4th position"),
    "5": gettext_noop("5th position"),
    "6": gettext_noop("6th position"),
    "7": gettext_noop("7th position"),
}

FLAT_SEVENTH = "The seventh harmonic is about 31 cents flat: the slide must come in a little."
SAME_LENGTH = "As long as 1-2, but flatter: only for quick changes."


@dataclass(frozen=True, slots=True)
class BrassHorn:
    """A tube with valves or a slide.

    fundamental      written pitch of the first harmonic with nothing pressed
    harmonics        those used for first-choice fingerings, in tune
    other_harmonics  those that may serve an alternate
    lowest, highest  written range of the table
    """

    fundamental: str
    harmonics: tuple[int, ...]
    other_harmonics: tuple[int, ...]
    lowest: str
    highest: str
    tubing: Mapping[str, int]
    prefix: str = ""


_COMMON = (2, 3, 4, 5, 6, 8)
HORNS: Mapping[str, BrassHorn] = {
    "trumpet": BrassHorn("C3", _COMMON, (), "F#3", "C6", VALVES),
    "baritone_bc": BrassHorn("Bb1", _COMMON, (), "E2", "Bb4", VALVES),
    "tuba": BrassHorn("Bb0", _COMMON, (), "E1", "Bb3", VALVES),
    "horn_f": BrassHorn("C2", (2, 3, 4, 5, 6, 8, 10, 12), (9,), "C3", "G5", VALVES),
    "horn_bb": BrassHorn("F2", (3, 4, 6, 8, 9, 12), (5, 10), "Ab4", "C6", VALVES, prefix="T"),
    "trombone": BrassHorn("Bb1", _COMMON, (7,), "E2", "Bb4", SLIDE),
}


@dataclass(frozen=True, slots=True)
class BrassChoice:
    """One way to play a note. `fingering` is "1-2", "0", "T1" (thumb) or a slide position "4"."""

    fingering: str
    harmonic: int
    note: str = ""


@dataclass(frozen=True, slots=True)
class BrassRow:
    """A written MIDI number with its first choice and its alternates."""

    midi: int
    primary: BrassChoice
    alternates: tuple[BrassChoice, ...]


def harmonic_semitones(number: int) -> int:
    """Semitones of the n-th harmonic above the fundamental, to the nearest: 12 log2 n."""
    return round(12 * math.log2(number))


@cache
def brass_table(name: str) -> Mapping[int, BrassRow]:
    """Rows by written MIDI number. The horn's two sides are "horn_f" and "horn_bb"."""
    horn = HORNS[name]
    first, last = Pitch.parse(horn.lowest).midi, Pitch.parse(horn.highest).midi
    return {midi: _row(midi, horn) for midi in range(first, last + 1)}


def _row(midi: int, horn: BrassHorn) -> BrassRow:
    ways = sorted(_ways(midi, horn), key=lambda way: (horn.tubing[way[0]], list(horn.tubing).index(way[0])))
    primary = next(way for way in ways if way[1] in horn.harmonics)
    return BrassRow(
        midi=midi,
        primary=_choice(primary, horn),
        alternates=tuple(
            _choice(way, horn)
            for way in ways
            if way != primary and not (_is_valve_three(way[0], horn) and primary != ("1-2", way[1]))
        ),
    )


def _ways(midi: int, horn: BrassHorn) -> Iterator[tuple[str, int]]:
    """Every tubing and harmonic that gives the note."""
    fundamental = Pitch.parse(horn.fundamental).midi
    for harmonic in sorted({*horn.harmonics, *horn.other_harmonics}):
        lowered = fundamental + harmonic_semitones(harmonic) - midi
        for fingering, semitones in horn.tubing.items():
            if semitones == lowered:
                yield fingering, harmonic


def _is_valve_three(fingering: str, horn: BrassHorn) -> bool:
    """Valve 3 alone is worth a word only where it stands for 1-2 of the first choice."""
    return fingering == "3" and horn.tubing is VALVES


def _choice(way: tuple[str, int], horn: BrassHorn) -> BrassChoice:
    fingering, harmonic = way
    note = FLAT_SEVENTH if harmonic == 7 else SAME_LENGTH if _is_valve_three(fingering, horn) else ""
    return BrassChoice(horn.prefix + fingering, harmonic, note)


def positions_words(position: str) -> str:
    """ "4th position"; "1st position with the trigger" for T1."""
    words = _(_POSITIONS[position.removeprefix("T")])
    return _("{position} with the trigger").format(position=words) if position.startswith("T") else words


def valves_words(fingering: str) -> str:
    """ "Valves 1 and 2", "No valves", "Thumb and valve 1"."""
    thumb = fingering.startswith("T")
    pressed = [valve for valve in fingering.removeprefix("T").split("-") if valve != "0"]
    if not pressed:
        return _("Thumb, no valves") if thumb else _("No valves")
    if thumb:
        words = ngettext("Thumb and valve {valves}", "Thumb and valves {valves}", len(pressed))
    else:
        words = ngettext("Valve {valves}", "Valves {valves}", len(pressed))
    return words.format(valves=listed(pressed))
