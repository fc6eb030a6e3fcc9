"""A part, or the whole score, as a MIDI file at sounding pitch.

Standard MIDI File format 1 (MIDI Association, RP-001), 480 ticks to a quarter note: one track of tempo, metre
and key, then one for each instrument. Instruments with the same General MIDI program share a channel, because
there are fewer channels than instruments.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from exercises.music.instruments import InstrumentFacts
from exercises.music.part import Part
from exercises.music.score import Line

TICKS = 480
VELOCITY = 80
DRUM_CHANNEL = 9
_CHANNELS = tuple(channel for channel in range(16) if channel != DRUM_CHANNEL)


@dataclass(frozen=True, slots=True)
class Held:
    """One sound: ties joined. `index` is its first note in the line; lengths in quarter notes."""

    index: int
    midi: int
    start: Fraction
    beats: Fraction


def held_notes(part: Part) -> tuple[Held, ...]:
    """The sounds of a part with tied notes joined; a drum stroke has its General MIDI drum number."""
    sounding = part.sounding_midi()
    sounds: list[Held] = []
    for note, ref, tied, midi in zip(
        part.line.notes, part.line.refs(), part.line.tied_in(), sounding, strict=True
    ):
        if note.pitch is None:
            continue
        if tied:
            before = sounds[-1]
            sounds[-1] = Held(before.index, before.midi, before.start, before.beats + note.beats)
            continue
        drum = part.instrument.midi_drum
        number = midi if midi is not None else drum
        if number is not None:
            sounds.append(Held(ref.index, number, ref.start, note.beats))
    return tuple(sounds)


def score_to_midi(instruments: Sequence[Sequence[Part]], *, tempos: Sequence[int], title: str = "") -> bytes:
    """For each instrument its lines one after another, each from the beginning of a bar."""
    lines = [part.line for part in instruments[0]]
    starts = _line_starts(lines)
    channels = _channels([parts[0].instrument for parts in instruments])
    tracks = [_track(_conductor(lines, starts, tempos, title))]
    for parts in instruments:
        tracks.append(_track(_instrument_events(parts, starts, channels[parts[0].instrument_id])))
    header = b"MThd" + (6).to_bytes(4) + (1).to_bytes(2) + len(tracks).to_bytes(2) + TICKS.to_bytes(2)
    return header + b"".join(tracks)


@dataclass(frozen=True, slots=True)
class _Event:
    """Bytes at a tick; `order` puts note ends before note beginnings."""

    tick: int
    order: int
    data: bytes


def _line_starts(lines: Sequence[Line]) -> list[Fraction]:
    """Where each line begins; a pickup begins at its place in the bar, so that bar lines stay even."""
    starts: list[Fraction] = []
    at = Fraction(0)
    for line in lines:
        bar = line.metre.quarters
        lead = bar - sum((note.beats for note in line.bars[0]), Fraction(0)) if line.pickup else Fraction(0)
        starts.append(at + lead)
        at += -(-(lead + line.beats) // bar) * bar
    return starts


def _channels(instruments: Iterable[InstrumentFacts]) -> dict[str, int]:
    by_program: dict[int, int] = {}
    channels: dict[str, int] = {}
    for player in instruments:
        if player.midi_program is None:
            channels[player.id] = DRUM_CHANNEL
        else:
            number = by_program.setdefault(player.midi_program, len(by_program))
            channels[player.id] = _CHANNELS[number % len(_CHANNELS)]
    return channels


def _conductor(
    lines: Sequence[Line], starts: Sequence[Fraction], tempos: Sequence[int], title: str
) -> list[_Event]:
    events = [_meta(0, 0x03, title.encode())] if title else []
    for line, start, tempo in zip(lines, starts, tempos, strict=True):
        bar = line.metre.quarters
        tick = _tick(start // bar * bar)
        events += [
            _meta(tick, 0x51, round(60_000_000 / tempo).to_bytes(3)),
            _meta(tick, 0x58, bytes([line.metre.beats, line.metre.unit.bit_length() - 1, 24, 8])),
            _meta(tick, 0x59, line.fifths.to_bytes(1, signed=True) + b"\x00"),
        ]
    return events


def _instrument_events(parts: Sequence[Part], starts: Sequence[Fraction], channel: int) -> list[_Event]:
    player = parts[0].instrument
    events = [_meta(0, 0x03, player.name.encode())]
    if player.midi_program is not None:
        events.append(_Event(0, 0, bytes([0xC0 | channel, player.midi_program])))
    for part, start in zip(parts, starts, strict=True):
        for sound in held_notes(part):
            first, last = _tick(start + sound.start), _tick(start + sound.start + sound.beats)
            events.append(_Event(first, 2, bytes([0x90 | channel, sound.midi, VELOCITY])))
            events.append(_Event(last, 1, bytes([0x80 | channel, sound.midi, 0])))
    return events


def _tick(beats: Fraction | int) -> int:
    return round(beats * TICKS)


def _meta(tick: int, kind: int, data: bytes) -> _Event:
    return _Event(tick, 0, bytes([0xFF, kind]) + _length(len(data)) + data)


def _track(events: list[_Event]) -> bytes:
    data = bytearray()
    at = 0
    for event in sorted(events, key=lambda event: (event.tick, event.order)):
        data += _length(event.tick - at) + event.data
        at = event.tick
    data += b"\x00\xff\x2f\x00"
    return b"MTrk" + len(data).to_bytes(4) + bytes(data)


def _length(number: int) -> bytes:
    """Variable-length quantity: seven bits a byte, the last one without the high bit."""
    groups = [number & 0x7F]
    while number := number >> 7:
        groups.append(number & 0x7F | 0x80)
    return bytes(reversed(groups))
