"""One assignment as a PDF: own part with names and counts, fingerings, the checklist, and when it is due."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.template.loader import render_to_string

import exercises.printing
from bandroom.people.instruments import Instrument
from bandroom.people.models import Seat
from bandroom.people.paper import Paper
from bandroom.people.printing.pdf import pdf_of
from exercises.pages.fingerings import NoteFingering, note_fingerings
from exercises.printing.pdf import PrintedLine, PrintedPart, printed_part
from submissions.models import Allowance, Assignment, Step
from submissions.working.checklists import items_for, said_items
from submissions.working.queries import asked_lines
from submissions.working.steps.strip import name_of, steps_of

STYLES = (Path(exercises.printing.__file__).parent / "sheet.css", Path(__file__).parent / "sheets.css")


@dataclass(frozen=True, slots=True)
class Reader:
    """Whom a sheet is for: when it is due there, and whether this student may record."""

    seat: Seat
    due_at: datetime
    may_record: bool


@dataclass(frozen=True, slots=True)
class SheetLine:
    """A line that is asked for, and how fast."""

    printed: PrintedLine
    allowance: Allowance


@dataclass(frozen=True, slots=True)
class Sheet:
    """What one student takes home."""

    reader: Reader
    part: PrintedPart
    lines: tuple[SheetLine, ...]
    items: tuple[str, ...]
    steps: tuple[str, ...]
    fingerings: tuple[NoteFingering, ...]


def sheets_pdf(*, assignment: Assignment, readers: Sequence[Reader], paper: Paper) -> bytes:
    """A sheet for each reader, on pages of its own.

    Raises MusicError when a part cannot be made.
    """
    return pdf_of(sheets_html(assignment=assignment, readers=readers, paper=paper), styles=STYLES)


def sheets_html(*, assignment: Assignment, readers: Sequence[Reader], paper: Paper) -> str:
    """What is printed, before it is laid out."""
    return render_to_string(
        "submissions/working/sheets.html",
        {
            "assignment": assignment,
            "band": assignment.band,
            "sheets": [_sheet(assignment, reader) for reader in readers],
            "paper": paper,
        },
    )


def _sheet(assignment: Assignment, reader: Reader) -> Sheet:
    seat = reader.seat
    player = Instrument(seat.instrument)
    part = printed_part(exercise=assignment.exercise, instrument=player, guide=True)
    lines = asked_lines(assignment)
    return Sheet(
        reader=reader,
        part=part,
        lines=tuple(
            SheetLine(printed=line, allowance=assignment.allowance_of(line.label, line.tempo))
            for line in part.lines
            if line.label in assignment.lines
        ),
        items=tuple(said for _item, said in said_items(items_for(seat), seat.instrument)),
        steps=tuple(name_of(step, player) for step in steps_of(player) if step is not Step.READY),
        fingerings=_each_once(
            note
            for line in lines
            for note in note_fingerings(line=line, instrument=player, confirmed_only=True)
        ),
    )


def _each_once(notes: Iterable[NoteFingering]) -> tuple[NoteFingering, ...]:
    """Every way to play every note, where it is first met."""
    return tuple({(note.name, note.words): note for note in reversed(tuple(notes))}.values())[::-1]
