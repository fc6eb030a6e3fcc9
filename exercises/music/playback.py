"""What is heard, and when? Events for the play-along in the page.

Times are beats (quarter notes) from beat 1 of the line, so that the page can play at any tempo; beat n sounds
(count-off beats + n) x 60 / tempo seconds after the start.
"""

from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any

from exercises.music.instruments import Family, InstrumentFacts
from exercises.music.midi_out import held_notes
from exercises.music.part import Part

#: ISO 16:1975: the A above middle C (MIDI 69) is tuned to 440 Hz.
CONCERT_A_HERTZ, CONCERT_A_MIDI = 440.0, 69


class Tone(StrEnum):
    """Colour of the reference tone."""

    REED = "reed"
    BRASS = "brass"
    FLUTE = "flute"
    BELL = "bell"
    DRUM = "drum"


@dataclass(frozen=True, slots=True)
class Sound:
    """One sound. `note` is the index of its first note in the line; `hertz` None for a drum stroke."""

    note: int
    hertz: float | None
    start: float
    beats: float


@dataclass(frozen=True, slots=True)
class CursorStop:
    """Where the cursor stands: every note and rest of the line, tied ones too."""

    note: int
    start: float
    beats: float


@dataclass(frozen=True, slots=True)
class BarStart:
    """Beginning of a bar, for looping from bar to bar; `bar` as printed."""

    bar: int
    start: float


@dataclass(frozen=True, slots=True)
class Playback:
    """A line to be heard.

    octaves_down  octaves by which the tones were lowered for comfort; the page must say so if it is not 0
    lead_in       beats between the bar line before the pickup and the first note (0 without a pickup)
    """

    tone: Tone
    sounds: tuple[Sound, ...]
    cursor: tuple[CursorStop, ...]
    bars: tuple[BarStart, ...]
    beats: float
    octaves_down: int
    lead_in: float

    def to_json(self) -> dict[str, Any]:
        return asdict(self)


def hertz(midi: float) -> float:
    """Frequency of a MIDI number in equal temperament."""
    return float(CONCERT_A_HERTZ * 2.0 ** ((midi - CONCERT_A_MIDI) / 12))


def tone_of(player: InstrumentFacts) -> Tone:
    if player.id == "flute":
        return Tone.FLUTE
    if player.family is Family.PERCUSSION:
        return Tone.BELL if player.pitched else Tone.DRUM
    return Tone.BRASS if player.family is Family.BRASS else Tone.REED


def playback(part: Part, *, octaves_down: int = 0) -> Playback:
    """Sounds at sounding pitch (minus `octaves_down`), places of the cursor and beginnings of bars."""
    line, pitched = part.line, part.instrument.pitched
    refs = line.refs()
    bar_starts: dict[int, float] = {}
    for ref in refs:
        bar_starts.setdefault(ref.bar, float(ref.start))
    return Playback(
        tone=tone_of(part.instrument),
        sounds=tuple(
            Sound(
                note=held.index,
                hertz=round(hertz(held.midi - 12 * octaves_down), 4) if pitched else None,
                start=float(held.start),
                beats=float(held.beats),
            )
            for held in held_notes(part)
        ),
        cursor=tuple(
            CursorStop(ref.index, float(ref.start), float(note.beats))
            for ref, note in zip(refs, line.notes, strict=True)
        ),
        bars=tuple(BarStart(bar, start) for bar, start in bar_starts.items()),
        beats=float(line.beats),
        octaves_down=octaves_down,
        lead_in=float(refs[0].beat - 1) if line.pickup else 0.0,
    )
