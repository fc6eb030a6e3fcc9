"""A MIDI file as exercise lines, from music21's raw events.

A MIDI file holds no spelling, no ties and no exact lengths. Lengths are moved to the nearest sixteenth and
that is reported when they were far from it; spelling follows the key (`spelling.py`) and is always reported,
so that the director looks at it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby, pairwise
from typing import Any

from music21.midi import ChannelVoiceMessages, MetaEvents, MidiException, MidiFile

from exercises.music.errors import MusicError
from exercises.music.incoming import (
    FoundNote,
    LineCollector,
    Problem,
    ProblemKind,
    ReadResult,
    check_size,
    finish_lines,
)
from exercises.music.keys import MOST_FIFTHS
from exercises.music.score import FOUR_FOUR, MOST_BARS, MOST_NOTES, Metre
from exercises.music.spelling import spell

#: A MIDI file of one exercise has a few kilobytes.
MOST_BYTES = 100_000
#: Finest length read, in quarter notes.
GRID = Fraction(1, 4)
#: A note further than this from the grid, in quarter notes, was played or written otherwise (a triplet).
FAR_FROM_GRID = Fraction(1, 12)
#: A silence up to this long before the next note is the way notes are let go, not a rest.
LET_GO = Fraction(1, 4)
PERCUSSION_CHANNEL = 10

_BROKEN = "This file is not MIDI that can be read: save it again as a MIDI file (.mid) and send that."


@dataclass(frozen=True, slots=True)
class _Sound:
    """One key pressed, in quarter notes from the beginning."""

    midi: int
    start: Fraction
    end: Fraction


def read_midi(data: bytes, *, written_for: str | None = None, fifths: int | None = None) -> ReadResult:
    """The lines of a file, one for each track and channel with notes, in concert pitch.

    written_for  the instrument whose part this is; None if the notes are concert pitch
    fifths       the key, when the file does not name it or names a wrong one
    Raises MusicError for a file that is no MIDI or whose metre changes on the way.
    """
    check_size(data, most=MOST_BYTES)
    file = _parsed(data)
    if not file.ticksPerQuarterNote or file.ticksPerQuarterNote < 0:
        raise MusicError("This MIDI file counts in film frames, not in beats: save it again with beats.")
    facts = _Facts(file)
    key = facts.fifths if fifths is None else fifths
    problems: list[Problem] = []
    collectors: list[LineCollector] = []
    for (_, channel), sounds in facts.sounds.items():
        if channel == PERCUSSION_CHANNEL:
            text = "The drum track of the file is left out."
            problems.append(Problem(ProblemKind.PERCUSSION, "", None, None, text))
            continue
        collectors.append(_line(sounds, facts.metre, key or 0))
    if key is None:
        text = "The file names no key: C major is taken. Choose the key, so that notes are spelled right."
        problems.append(Problem(ProblemKind.SPELLING, "", None, None, text))
    text = "A MIDI file does not spell its notes: sharps and flats outside the key were chosen here."
    problems.append(Problem(ProblemKind.SPELLING, "", None, None, text))
    return finish_lines(collectors, problems=problems, tempo=facts.tempo, written_for=written_for)


def _parsed(data: bytes) -> Any:
    file = MidiFile()
    try:
        file.readstr(data)
    except (MidiException, IndexError, ValueError, TypeError, AttributeError, EOFError) as error:
        raise MusicError(_BROKEN) from error
    return file


class _Facts:
    """What the tracks say: metre, key, tempo, and sounds by track and channel."""

    def __init__(self, file: Any) -> None:
        self.metre = FOUR_FOUR
        self.fifths: int | None = None
        self.tempo: int | None = None
        self.sounds: dict[tuple[int, int], list[_Sound]] = {}
        self._metre_seen = False
        for number, track in enumerate(file.tracks):
            self._track(number, track.events, int(file.ticksPerQuarterNote))

    def _track(self, number: int, events: Sequence[Any], ticks: int) -> None:
        at = Fraction(0)
        pressed: dict[tuple[int, int], Fraction] = {}
        for event in events:
            if event.isDeltaTime():
                at += Fraction(int(event.time), ticks)
                continue
            if event.type == ChannelVoiceMessages.NOTE_ON and event.velocity:
                self._release(number, pressed, event, at)
                pressed[event.channel, event.pitch] = at
            elif event.type in (ChannelVoiceMessages.NOTE_ON, ChannelVoiceMessages.NOTE_OFF):
                self._release(number, pressed, event, at)
            elif event.type in (MetaEvents.TIME_SIGNATURE, MetaEvents.KEY_SIGNATURE, MetaEvents.SET_TEMPO):
                self._meta(event)

    def _release(
        self, number: int, pressed: dict[tuple[int, int], Fraction], event: Any, at: Fraction
    ) -> None:
        start = pressed.pop((event.channel, event.pitch), None)
        if start is None:
            return
        sounds = self.sounds.setdefault((number, event.channel), [])
        sounds.append(_Sound(int(event.pitch), start, at))
        if len(sounds) > MOST_NOTES:
            raise MusicError(f"This file is too long: an exercise has at most {MOST_NOTES} notes.")

    def _meta(self, event: Any) -> None:
        data = event.data
        if event.type == MetaEvents.SET_TEMPO and len(data) >= 3 and self.tempo is None:
            microseconds = int.from_bytes(data[:3], "big")
            self.tempo = round(60_000_000 / microseconds) if microseconds else None
        elif event.type == MetaEvents.KEY_SIGNATURE and len(data) >= 1 and self.fifths is None:
            fifths = int.from_bytes(data[:1], "big", signed=True)
            self.fifths = fifths if abs(fifths) <= MOST_FIFTHS else None
        elif event.type == MetaEvents.TIME_SIGNATURE and len(data) >= 2:
            metre = Metre(data[0], 2 ** min(data[1], 7))
            metre.validate()
            if self._metre_seen and metre != self.metre:
                raise MusicError(f"The metre changes to {metre}: keep one metre for the whole line.")
            self.metre, self._metre_seen = metre, True


def _line(sounds: Sequence[_Sound], metre: Metre, fifths: int) -> LineCollector:
    line = LineCollector(metre, fifths)
    found = _one_at_a_time(sounds, line)
    total = max(end for _, _, end in found)
    bar_count = -(-total // metre.quarters)
    if bar_count > MOST_BARS:
        raise MusicError(f"This file is too long: an exercise has at most {MOST_BARS} bars.")
    pieces: list[tuple[int | None, Fraction, Fraction]] = []
    at = Fraction(0)
    for midi, start, end in found:
        if start > at:
            pieces.append((None, at, start))
        pieces.append((midi, start, end))
        at = end
    if at < bar_count * metre.quarters:
        pieces.append((None, at, bar_count * metre.quarters))
    pitches = spell([midi for midi, _, _ in pieces], fifths)
    bars: list[list[FoundNote]] = [[] for _ in range(bar_count)]
    for pitch, (_, start, end) in zip(pitches, pieces, strict=True):
        while start < end:
            bar = int(start // metre.quarters)
            stop = min(end, (bar + 1) * metre.quarters)
            bars[bar].append(FoundNote(pitch, stop - start, tied=pitch is not None and stop < end))
            start = stop
    for bar_notes in bars:
        line.add_bar(bar_notes)
    return line


def _one_at_a_time(sounds: Sequence[_Sound], line: LineCollector) -> list[tuple[int, Fraction, Fraction]]:
    """Sounds on the grid, the highest of several at once, none longer than to the next one."""
    bar = line.metre.quarters
    kept: list[tuple[int, Fraction, Fraction]] = []
    ordered = sorted(sounds, key=lambda sound: (_on_grid(sound.start), -sound.midi))
    for start, together in groupby(ordered, key=lambda sound: _on_grid(sound.start)):
        chord = list(together)
        place = (int(start // bar), 1 + start % bar)
        if len(chord) > 1:
            _at(line, ProblemKind.CHORD, place, "several notes at once. Only the highest is kept.")
        if abs(chord[0].start - start) >= FAR_FROM_GRID:
            _at(line, ProblemKind.TIMING, place, "a note between the sixteenths (a triplet?). It is moved.")
        end = max(_on_grid(chord[0].end), start + GRID)
        kept.append((chord[0].midi, start, end))
    for index, ((midi, start, end), (_, following, _)) in enumerate(pairwise(kept)):
        if end > following + LET_GO:
            place = (int(start // bar), 1 + start % bar)
            _at(line, ProblemKind.VOICES, place, "a note that sounds on under the next. It is cut off there.")
        if following - end <= LET_GO:
            kept[index] = (midi, start, following)
    midi, start, end = kept[-1]
    next_beat = Fraction(-(-end // 1))
    kept[-1] = (midi, start, next_beat if next_beat - end <= LET_GO else end)
    return kept


def _at(line: LineCollector, kind: ProblemKind, place: tuple[int, Fraction], text: str) -> None:
    line.report_at(kind, text, bar_index=place[0], beat=place[1])


def _on_grid(beats: Fraction) -> Fraction:
    return round(beats / GRID) * GRID
