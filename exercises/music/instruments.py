"""Which instruments are there, and how does each one read? Clef, transposition, ranges, sound.

The facts stand in `data/instruments.json` with a trust label each: transposition is checked by machine,
beginner ranges are common practice that a director edits.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from importlib.resources import files
from types import MappingProxyType
from typing import Any, Self

from exercises.music.errors import MusicError
from exercises.music.pitch import Interval, Pitch


class Family(StrEnum):
    WOODWIND = "woodwind"
    BRASS = "brass"
    PERCUSSION = "percussion"


class Clef(StrEnum):
    TREBLE = "treble"
    BASS = "bass"
    PERCUSSION = "percussion"


class Trust(StrEnum):
    """How far a fact can be believed; always shown to the director."""

    COMPUTED = "computed"
    COMMON_PRACTICE = "common practice"
    WANTS_DIRECTOR = "wants a director's yes"
    CONFIRMED = "confirmed by the director"


@dataclass(frozen=True, slots=True)
class Range:
    """Lowest and highest written pitch, both included; judged by sound, not by spelling."""

    low: Pitch
    high: Pitch

    def __post_init__(self) -> None:
        if self.low.midi > self.high.midi:
            raise MusicError(f"A range goes upward: {self.low.name} is higher than {self.high.name}.")

    @classmethod
    def parse(cls, low: str, high: str) -> Self:
        return cls(Pitch.parse(low), Pitch.parse(high))

    @property
    def words(self) -> str:
        """ "A3 to C5"."""
        return f"{self.low.printed} to {self.high.printed}"

    def distance(self, midi: int) -> int:
        """Semitones outside the range; 0 inside."""
        return max(0, self.low.midi - midi, midi - self.high.midi)


@dataclass(frozen=True, slots=True)
class Ranges:
    """What a first-year player has: `comfortable` now, `extended` with a stretch. Written pitch."""

    comfortable: Range
    extended: Range

    @property
    def words(self) -> str:
        """ "A3 to C5, easy from C4 to G4"."""
        return f"{self.extended.words}, easy from {self.comfortable.words}"


@dataclass(frozen=True, slots=True)
class MusicXmlTranspose:
    """The three numbers of MusicXML's <transpose>."""

    diatonic: int
    chromatic: int
    octave_change: int


@dataclass(frozen=True, slots=True)
class InstrumentFacts:
    """One instrument as a section of the band reads it.

    to_sounding   spelled interval from written to sounding pitch
    ranges        beginner ranges in written pitch, None for an unpitched instrument
    full          whole written range of the instrument, for sanity checks
    midi_program  General MIDI program from 0, None for an unpitched instrument
    midi_drum     General MIDI percussion key (channel 10) of an unpitched instrument
    """

    id: str
    name: str
    short_name: str
    family: Family
    clef: Clef
    to_sounding: Interval
    transposition: str
    musicxml_transpose: MusicXmlTranspose
    musicxml_sound: str
    ranges: Ranges | None
    full: Range | None
    midi_program: int | None
    midi_drum: int | None
    cautions: str
    transposition_trust: Trust
    range_trust: Trust
    range_basis: str
    full_range_source: str

    @property
    def pitched(self) -> bool:
        return self.ranges is not None

    @property
    def from_concert(self) -> Interval:
        """Spelled interval from concert pitch to written pitch."""
        return -self.to_sounding


def _range(pair: list[str]) -> Range:
    return Range.parse(*pair)


def _instrument(row: Mapping[str, Any]) -> InstrumentFacts:
    interval, transpose = row["written_to_sounding"], row["written_to_sounding"]["musicxml"]
    beginner, full = row["beginner_written"], row["full_written"]
    drum = row.get("midi_percussion")
    return InstrumentFacts(
        id=row["id"],
        name=row["name"],
        short_name=row["short_name"],
        family=Family(row["family"]),
        clef=Clef(row["clef"]),
        to_sounding=Interval(interval["diatonic"], interval["chromatic"]),
        transposition=interval["label"],
        musicxml_transpose=MusicXmlTranspose(**transpose),
        musicxml_sound=row["musicxml_sound"],
        ranges=beginner and Ranges(_range(beginner["comfortable"]), _range(beginner["extended"])),
        full=full and Range.parse(full["low"], full["high"]),
        midi_program=row["midi_program"],
        midi_drum=drum and drum["key"],
        cautions=row["cautions"],
        transposition_trust=Trust.COMPUTED,
        range_trust=Trust.COMMON_PRACTICE,
        range_basis=beginner["basis"] if beginner else "not pitched",
        full_range_source=full["source"] if full else "not pitched",
    )


def _load() -> Mapping[str, InstrumentFacts]:
    text = files("exercises.music").joinpath("data/instruments.json").read_text(encoding="utf-8")
    return MappingProxyType({row["id"]: _instrument(row) for row in json.loads(text)["instruments"]})


#: Every instrument by id, in score order.
INSTRUMENTS: Mapping[str, InstrumentFacts] = _load()


def instrument(instrument_id: str) -> InstrumentFacts:
    """The instrument with this id. Raises MusicError if there is none."""
    try:
        return INSTRUMENTS[instrument_id]
    except KeyError:
        raise MusicError(f"“{instrument_id}” is not an instrument here: choose one from the list.") from None
