"""What the listener is told was to be played: the student's own part, as it sounds.

A take of several lines is heard as one piece, line after line with a bar between; the score names its lines,
and the listener answers for each. The piece has one clock, the first line's: where another line goes at
another tempo, its beats are stretched to it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from exercises.models import ExerciseLine
from exercises.music.errors import MusicError
from exercises.music.instruments import INSTRUMENTS, Family, InstrumentFacts
from exercises.music.part import Part
from exercises.music.reading import read_part
from exercises.pages.fingerings import has_table, note_fingerings
from exercises.parts import part_of
from submissions.models import Take


class NoScore(Exception):
    """There is nothing to listen for; the message says why."""


@dataclass(frozen=True, slots=True)
class AskedLine:
    """One line of the part: its notes as the listener's score wants them, and how many there are."""

    label: str
    tempo_bpm: int
    beats_per_bar: float
    fifths: int
    notes: tuple[dict[str, Any], ...]
    length_beats: float
    alternates: tuple[int, ...] = ()
    """Notes whose change from the note before has a recommended alternate fingering."""

    def stretch(self, first: "AskedLine") -> float:
        """One beat of this line in beats of the first."""
        return first.tempo_bpm / self.tempo_bpm


@dataclass(frozen=True, slots=True)
class Asked:
    """The score for one hearing: the lines played in the take, in order, and the exercise's others.

    left_out  why a line that was played is not listened for, if there is such a line
    """

    instrument: InstrumentFacts
    lines: tuple[AskedLine, ...]
    others: tuple[AskedLine, ...] = ()
    left_out: str = ""

    def to_json(self) -> dict[str, Any]:
        """SCORE.json as `python -m submissions.listening` reads it."""
        score = _score(instrument=self.instrument, lines=self.lines)
        score["lines"] = [
            {
                "label": line.label,
                "stretch": line.stretch(self.lines[0]),
                "score": _score(instrument=self.instrument, lines=(line,)),
            }
            for line in self.lines
            if line.notes
        ]
        if self.others:
            score["other_lines"] = [_score(instrument=self.instrument, lines=(line,)) for line in self.others]
        return score


def score_of(*, take: Take) -> Asked:
    """Raises NoScore where no line of the take has notes, or the instrument no such part."""
    rows = {row.label: row for row in take.assignment.exercise.lines.all()}
    asked = {label: _asked(take=take, row=row) for label, row in rows.items()}
    silent = [label for label in take.lines if label not in asked or not asked[label].notes]
    left_out = f"Line {silent[0]} has no notes to listen for." if silent else ""
    if len(silent) == len(take.lines):
        raise NoScore(left_out)
    return Asked(
        instrument=INSTRUMENTS[take.seat.instrument],
        lines=tuple(asked[label] for label in take.lines if label in asked),
        others=tuple(other for label, other in asked.items() if label not in take.lines and other.notes),
        left_out=left_out,
    )


def _asked(*, take: Take, row: ExerciseLine) -> AskedLine:
    try:
        part = part_of(line=row, instrument=take.seat.instrument)
    except MusicError as error:
        raise NoScore(error.message) from error
    notes = tuple(_notes(part))
    return AskedLine(
        label=row.label,
        tempo_bpm=take.tempo_of(row.label, take.assignment.tempo_of(row.label, row.tempo_bpm)),
        beats_per_bar=float(part.line.metre.quarters),
        fifths=part.line.fifths,
        notes=tuple(note for _, note in notes),
        length_beats=float(part.line.beats),
        alternates=_alternates(notes, row=row, instrument=take.seat.instrument),
    )


def _alternates(
    notes: Sequence[tuple[int, Mapping[str, Any]]], *, row: ExerciseLine, instrument: str
) -> tuple[int, ...]:
    """Changes between neighbours of other pitch at which the student's page shows an alternate fingering."""
    if not has_table(instrument):
        return ()
    shown = note_fingerings(line=row, instrument=instrument, confirmed_only=True)
    alternate = {fingering.index for fingering in shown if fingering.reason}
    return tuple(
        number
        for number, ((before, left), (after, right)) in enumerate(pairwise(notes), start=1)
        if {before, after} & alternate
        and left["midi"] != right["midi"]
        and left["start_beat"] + left["beats"] == right["start_beat"]
    )


def _notes(part: Part) -> list[tuple[int, dict[str, Any]]]:
    """Sounding notes in quarter beats from the start of the line, tied notes joined to one, each with its
    place among all notes and rests of the line.
    """
    notes: list[tuple[int, dict[str, Any]]] = []
    places = zip(
        part.line.notes,
        part.line.refs(),
        part.line.tied_in(),
        part.sounding_midi(),
        read_part(part),
        strict=True,
    )
    for index, (note, ref, tied_in, midi, reading) in enumerate(places):
        if midi is None or note.pitch is None:
            continue
        if tied_in:
            notes[-1][1]["beats"] += float(note.beats)
            continue
        notes.append(
            (
                index,
                {
                    "midi": midi,
                    "start_beat": float(ref.start),
                    "beats": float(note.beats),
                    "written": {
                        "letter": note.pitch.letter,
                        "alter": note.pitch.alter,
                        "octave": note.pitch.octave,
                        "bar": ref.bar,
                        "beat": float(ref.beat),
                        "reason": str(reading.reason),
                    },
                },
            )
        )
    return notes


def _score(*, instrument: InstrumentFacts, lines: Sequence[AskedLine]) -> dict[str, Any]:
    notes: list[dict[str, Any]] = []
    alternates: list[int] = []
    offset, first = 0.0, lines[0]
    for line in lines:
        stretch = line.stretch(first)
        alternates += [number + len(notes) for number in line.alternates]
        notes += [
            note | {"start_beat": offset + stretch * note["start_beat"], "beats": stretch * note["beats"]}
            for note in line.notes
        ]
        offset += stretch * (line.length_beats + line.beats_per_bar)
    return {
        "instrument": instrument.id,
        "transposition": instrument.to_sounding.semitones,
        "struck": instrument.family is Family.PERCUSSION,
        "tempo_bpm": first.tempo_bpm,
        "beats_per_bar": first.beats_per_bar,
        "fifths": first.fifths,
        "notes": notes,
        "alternates": alternates,
    }
