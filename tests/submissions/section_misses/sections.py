"""A section that plays a line: invented evidence for each player, from how they slip."""

from collections.abc import Mapping, Sequence
from typing import Any

from exercises.music.notation import parse_notation
from exercises.music.reading import read
from exercises.music.score import FOUR_FOUR, Line
from submissions.listening.evidence import Evidence
from submissions.section_misses.misses import SectionMisses, Struck, misses_of, struck_notes
from tests.submissions.grading.evidence import NOT_HEARD, evidence, other, unsure

__all__ = ["NOT_HEARD", "evidence", "heard", "notes_of", "other", "section", "unsure", "written"]

type Slips = Mapping[int, Mapping[str, Any]]


def written(text: str, *, fifths: int = 0) -> Line:
    """A line as its players read it."""
    return parse_notation(text, label="B", metre=FOUR_FOUR, fifths=fifths)


def notes_of(line: Line) -> tuple[Struck, ...]:
    return struck_notes(line, read(line), pitched=True)


def heard(notes: Sequence[Struck], slips: Slips, /, **take: Any) -> dict[str, Any]:
    """One player's evidence; the instrument sounds as it reads."""
    return evidence(
        sounding=[note.pitch.midi if note.pitch else None for note in notes],
        starts=[float(note.ref.start) for note in notes],
        slips=slips,
        **take,
    )


def section(line: Line, players: Sequence[Slips]) -> tuple[tuple[Struck, ...], SectionMisses]:
    """Every player's slips by note number; {} plays as written."""
    notes = notes_of(line)
    takes = [(Evidence.from_json(heard(notes, slips)), {}) for slips in players]
    return notes, misses_of(notes=notes, takes=takes, semitones_to_sounding=0)
