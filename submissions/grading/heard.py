"""What the listener says of one line, in words and note by note, for the page of one student."""

from dataclasses import dataclass

from exercises.music.score import Metre
from submissions.grading.drawing import LineDrawing
from submissions.grading.shelf import words as shelf_words
from submissions.grading.shelf.notes import ShelfNote
from submissions.models import Assignment, Hearing
from submissions.takes.heard_lines import HeardLine


@dataclass(frozen=True, slots=True)
class HeardNote:
    """One note of the list in words, with the buttons of the director's ear."""

    note: ShelfNote
    place: str
    sentence: str

    @property
    def number(self) -> int:
        return self.note.written.number

    @property
    def verdict(self) -> str:
        return self.note.verdict.value


@dataclass(frozen=True, slots=True)
class HeardInWords:
    """What the listener says of a line, in words.

    is_coming  it still listens
    has_cause  one misreading explains several notes; the part's reading help shows how they are read
    """

    metre: Metre
    is_coming: bool
    problem: str
    summary: str
    doubts: tuple[str, ...]
    has_cause: bool
    facts: tuple[str, ...]
    notes: tuple[HeardNote, ...]

    @property
    def worth_hearing(self) -> tuple[HeardNote, ...]:
        return tuple(note for note in self.notes if not note.note.is_plain)


def heard_of(
    heard: HeardLine,
    *,
    drawing: LineDrawing,
    assignment: Assignment,
    asked_bpm: int,
    counted_bpm: int | None = None,
) -> HeardInWords:
    shelf = drawing.shelf
    exercise = assignment.exercise
    metre = Metre(exercise.metre_beats, exercise.metre_unit)
    problem = ""
    if heard.state == Hearing.State.FAILED:
        problem = heard.reason or "This take could not be listened to."
    elif heard.is_done and shelf is None and not drawing.problem:
        problem = "What was heard belongs to another version of this line."
    return HeardInWords(
        metre=metre,
        is_coming=heard.state in {Hearing.State.QUEUED, Hearing.State.RUNNING},
        problem=problem,
        summary=shelf_words.summary(shelf) if shelf else "",
        doubts=shelf_words.doubts(shelf) if shelf else (),
        has_cause=bool(shelf and shelf.misreading),
        facts=shelf_words.facts(shelf, metre, asked_bpm=asked_bpm, counted_bpm=counted_bpm) if shelf else (),
        notes=tuple(
            HeardNote(
                note=note,
                place=shelf_words.place(note, metre),
                sentence=shelf_words.sentence(note),
            )
            for note in (shelf.notes if shelf else ())
        ),
    )
