"""One line of a student's part as they saw it, with the sound and the evidence under its notes.

Drawn twice: whole on one system for a desk, two bars a system for a phone; a page shows one of them.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.safestring import SafeString

from exercises.drawing.two_screens import Screen, engraved_twice
from exercises.models import ExerciseLine
from exercises.music.engraving import Engraving, line_svg
from exercises.music.errors import MusicError
from exercises.music.instruments import INSTRUMENTS
from exercises.music.score import line_from_json
from exercises.parts import Layout
from submissions.grading.shelf import drawing as shelf_drawing
from submissions.grading.shelf.drawing import TakeSound
from submissions.grading.shelf.notes import Shelf, StruckNote, shelf_of, written_notes
from submissions.grading.timing import TimeMap, counted_map, first_of, guessed_map, heard_map
from submissions.models import Assignment, Take
from submissions.takes.heard_lines import HeardLine


@dataclass(frozen=True, slots=True)
class LineDrawing:
    """`wide` and `narrow` are one SVG each. Where the part cannot be drawn, `problem` says why."""

    wide: SafeString
    narrow: SafeString
    problem: str
    notes: tuple[StruckNote, ...]
    shelf: Shelf | None
    sound: TakeSound | None
    now: int | None


def draw_line(
    *,
    line: ExerciseLine,
    lines: Sequence[ExerciseLine],
    assignment: Assignment,
    instrument: str,
    take: Take | None,
    heard: HeardLine | None,
    now: int | None = None,
) -> LineDrawing:
    """`lines` are all lines of the exercise, to find this one inside a take of several."""
    try:
        engraved = engraved_twice(
            line=line, instrument=instrument, layout=Layout.MARKING, prefix=f"line{line.label}"
        )
    except MusicError as error:
        return LineDrawing(SafeString(), SafeString(), error.message, (), None, None, None)
    notes = written_notes(engraved.wide.notes, semitones_to_sounding=_to_sounding(instrument))
    shelf = None
    if heard is not None and heard.evidence is not None:
        shelf = shelf_of(notes=notes, evidence=heard.evidence, ear=heard.ear)
    sound = _sound(take, line=line, lines=lines, assignment=assignment, notes=notes, shelf=shelf)
    if now is None and shelf is not None:
        now = shelf.first_to_hear

    def draw(engraving: Engraving, screen: Screen) -> str:
        label = f"Line {line.label}, {_what(shelf)}"
        return _svg(engraving, notes, shelf, sound, now, label=label, screen=screen)

    drawings = engraved.drawn(draw)
    return LineDrawing(
        wide=drawings.wide,
        narrow=drawings.narrow,
        problem="",
        notes=notes,
        shelf=shelf,
        sound=sound,
        now=now,
    )


def bars_of(line: ExerciseLine) -> list[int]:
    """Printed numbers of its bars."""
    first = 0 if line.score.get("pickup") else 1
    return list(range(first, first + len(line.score["bars"])))


def _to_sounding(instrument: str) -> int:
    reader = INSTRUMENTS[instrument]
    return reader.to_sounding.semitones if reader.pitched else 0


def _what(shelf: Shelf | None) -> str:
    return "with what was heard under each note; in words below" if shelf else "as the student saw it"


def _svg(
    engraving: Engraving,
    notes: Sequence[StruckNote],
    shelf: Shelf | None,
    sound: TakeSound | None,
    now: int | None,
    *,
    label: str,
    screen: Screen,
) -> str:
    over = shelf_drawing.overlay(
        engraving, notes=notes, shelf=shelf, sound=sound, now=now, scale_words=screen is Screen.WIDE
    )
    pad = shelf_drawing.depth(shelf=shelf is not None, sound=sound is not None)
    return line_svg(
        engraving,
        overlay=over,
        label=label,
        css_class=screen.css_class,
        pad_top=max(4.0, shelf_drawing.above(engraving)) if sound else 4.0,
        pad_bottom=pad + 2,
    )


def _sound(
    take: Take | None,
    *,
    line: ExerciseLine,
    lines: Sequence[ExerciseLine],
    assignment: Assignment,
    notes: Sequence[StruckNote],
    shelf: Shelf | None,
) -> TakeSound | None:
    if take is None or take.state != Take.State.READY or not take.seconds or not take.peaks or not notes:
        return None
    times = first_of((_heard(notes, shelf), *_placed(take, line=line, lines=lines, assignment=assignment)))
    return TakeSound(peaks=take.peaks, seconds=take.seconds, times=times) if times else None


def _heard(notes: Sequence[StruckNote], shelf: Shelf | None) -> TimeMap | None:
    if shelf is None:
        return None
    return heard_map([float(note.start) for note in notes], [note.onset_seconds for note in shelf.notes])


def _placed(
    take: Take, *, line: ExerciseLine, lines: Sequence[ExerciseLine], assignment: Assignment
) -> tuple[TimeMap | None, ...]:
    """By the marker, else by guess; in a take of several lines the ones before and after take their time."""
    beats = {other.label: float(line_from_json(other.score).beats) for other in lines}
    played = [label for label in take.lines if label in beats]
    place = played.index(line.label) if line.label in played else 0
    before = sum(beats[label] for label in played[:place])
    after = sum(beats[label] for label in played[place + 1 :])
    counted = None
    if take.beat_one_seconds is not None:
        counted = counted_map(
            beat_one_seconds=take.beat_one_seconds,
            tempo_bpm=take.tempo_of(line.label, assignment.tempo_of(line.label, line.tempo_bpm)),
            beats=beats[line.label],
            before=before,
        )
    return counted, guessed_map(
        peaks=take.peaks, seconds=take.seconds or 0.0, beats=beats[line.label], before=before, after=after
    )
