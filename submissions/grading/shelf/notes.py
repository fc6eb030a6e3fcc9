"""What stands on the shelf: the listener's evidence, laid beside the notes as they are written.

Pure: no database, no markup. Evidence has one entry for each note that is struck (rests left out, tied
notes joined). What the director's ear decided is kept beside it; the evidence itself is never changed.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING

from submissions.listening.evidence import Attempt, Change, Evidence, NoteHeard, Quality, Verdict
from submissions.listening.spelling import letter_name

if TYPE_CHECKING:
    from exercises.music.engraving import NotePlace

#: From this share of a beat on a note is said to be early or late.
OFF_BEAT = 0.25
#: Held less than this share of its written length, a note is said to be short.
SHORT_BELOW = 0.6
#: A change of notes that takes less than this is never called slow (judgement).
SLOW_CHANGE_MS = 80


@dataclass(frozen=True, slots=True)
class StruckNote:
    """One struck note. `number` counts struck notes from 0; `first` and `last` count notes on the page."""

    number: int
    first: int
    last: int
    bar: int
    beat: Fraction
    start: Fraction
    beats: Fraction
    name: str
    sounding_midi: int | None


@dataclass(frozen=True, slots=True)
class ShelfNote:
    """A written note with what was heard there. Unknown is None, never zero."""

    written: StruckNote
    heard: Verdict
    ear: Verdict | None
    steps: int | None  # semitones above (or below) the written note
    heard_name: str | None  # in the student's own letters
    onset_seconds: float | None
    beats_off: float | None  # late is above zero
    held_share: float | None
    cents: float | None
    why_unsure: str | None

    @property
    def verdict(self) -> Verdict:
        """The ear's word where there is one."""
        return self.ear or self.heard

    @property
    def timing(self) -> str:
        """ "late", "early" or "": only of a note that was heard."""
        if self.verdict is Verdict.NOT_HEARD or self.beats_off is None or abs(self.beats_off) < OFF_BEAT:
            return ""
        return "late" if self.beats_off > 0 else "early"

    @property
    def is_short(self) -> bool:
        return (
            self.held_share is not None
            and self.held_share < SHORT_BELOW
            and self.verdict is not Verdict.NOT_HEARD
        )

    @property
    def needs_ear(self) -> bool:
        return self.verdict is Verdict.UNSURE

    @property
    def is_plain(self) -> bool:
        """Nothing to say about it."""
        return (
            self.verdict is Verdict.AS_WRITTEN and not self.timing and not self.is_short and self.ear is None
        )


@dataclass(frozen=True, slots=True)
class EarlierTry:
    """A start that was given up and played again."""

    first: StruckNote
    last: StruckNote
    begins_seconds: float
    ends_seconds: float


@dataclass(frozen=True, slots=True)
class Shelf:
    """One line's evidence.

    unsteady_beats  how far a note stands off the student's own even beat, in the middle
    """

    notes: tuple[ShelfNote, ...]
    tempo_bpm: float | None = None
    unsteady_beats: float | None = None
    tuning_cents: float | None = None
    extra_seconds: tuple[float, ...] = ()
    restarted: bool = False
    earlier: tuple[EarlierTry, ...] = ()
    stopped_early: bool = False
    other_line: bool = False
    transposed: str = ""
    misreading: str = ""
    explained: frozenset[int] = frozenset()
    quality: tuple[Quality, ...] = ()
    slow_changes: tuple[tuple[int, int, int], ...] = field(default=())  # note, milliseconds, the usual ones

    def count(self, verdict: Verdict) -> int:
        return sum(note.verdict is verdict for note in self.notes)

    @property
    def first_to_hear(self) -> int | None:
        """The note a director would look at first: one to listen to, else one that is not as written."""
        by_need = sorted(
            (note for note in self.notes if not note.is_plain and note.ear is None),
            key=lambda note: (not note.needs_ear, note.written.number),
        )
        return by_need[0].written.number if by_need else None


def written_notes(places: Sequence["NotePlace"], *, semitones_to_sounding: int) -> tuple[StruckNote, ...]:
    """The struck notes of an engraved line, ties joined."""
    found: list[StruckNote] = []
    for place in places:
        if place.is_rest:
            continue
        if place.tie_in and found:
            held = found[-1]
            found[-1] = StruckNote(
                held.number, held.first, place.index, held.bar, held.beat, held.start,
                held.beats + place.beats, held.name, held.sounding_midi,
            )  # fmt: skip
            continue
        sounding = None if place.midi_written is None else place.midi_written + semitones_to_sounding
        found.append(
            StruckNote(
                number=len(found),
                first=place.index,
                last=place.index,
                bar=place.bar,
                beat=place.beat,
                start=place.start,
                beats=place.beats,
                name=place.name,
                sounding_midi=sounding,
            )
        )
    return tuple(found)


def shelf_of(*, notes: Sequence[StruckNote], evidence: Evidence, ear: Mapping[int, Verdict]) -> Shelf | None:
    """None when the evidence is of another line than this one: then there is nothing to show beside it."""
    if len(evidence.notes) != len(notes):
        return None
    misreading, moved = evidence.misreading, evidence.transposed_semitones or 0
    return Shelf(
        notes=tuple(
            _shelf_note(note, heard, ear.get(note.number), moved=moved)
            for note, heard in zip(notes, evidence.notes, strict=True)
        ),
        tempo_bpm=evidence.tempo_bpm,
        unsteady_beats=evidence.steadiness,
        tuning_cents=evidence.tuning_cents,
        extra_seconds=tuple(extra.onset_seconds for extra in evidence.extra),
        restarted=bool(evidence.restarted),
        earlier=tuple(_earlier(evidence.attempts, notes)),
        stopped_early=bool(evidence.stopped_early),
        other_line=bool(evidence.other_line),
        transposed=_transposed(evidence),
        misreading=misreading.sentence if misreading else "",
        explained=frozenset(misreading.notes if misreading else ()),
        quality=evidence.quality,
        slow_changes=tuple(_slow_changes(evidence.changes, count=len(notes))),
    )


def ear_needed(evidence: Evidence, ear: Mapping[int, Verdict]) -> int:
    """How much of one line asks for the director's ear; for sorting a roster, without its part."""
    unsure = sum(
        note.verdict is Verdict.UNSURE and number not in ear for number, note in enumerate(evidence.notes)
    )
    doubts = len(evidence.quality) + bool(evidence.other_line)
    return unsure + doubts * max(1, len(evidence.notes))


def _shelf_note(note: StruckNote, heard: NoteHeard, ear: Verdict | None, *, moved: int) -> ShelfNote:
    """`moved`: semitones by which all of it sounds as another instrument's part; steps count from there."""
    midi = heard.heard_midi
    steps = None if midi is None or note.sounding_midi is None else midi - note.sounding_midi - moved
    return ShelfNote(
        written=note,
        heard=heard.verdict,
        ear=ear,
        steps=steps,
        heard_name=letter_name(heard.heard_written or "") or None,
        onset_seconds=heard.onset_seconds,
        beats_off=heard.beats_off,
        held_share=heard.held_share,
        cents=heard.cents_in_tune,
        why_unsure=heard.why_unsure,
    )


def _transposed(evidence: Evidence) -> str:
    if not evidence.transposed_semitones:
        return ""
    return evidence.transposed_sentence or "Right written notes, but on another instrument’s part."


def _earlier(attempts: Iterable[Attempt], notes: Sequence[StruckNote]) -> Iterable[EarlierTry]:
    for attempt in attempts:
        if attempt.first_note in range(len(notes)) and attempt.last_note in range(len(notes)):
            first, last = notes[attempt.first_note], notes[attempt.last_note]
            yield EarlierTry(first, last, attempt.onset_seconds, attempt.end_seconds)


def _slow_changes(changes: Iterable[Change], *, count: int) -> Iterable[tuple[int, int, int]]:
    """Changes that took at least twice the student's usual time."""
    for change in changes:
        gap, usual = change.gap_ms, change.usual_gap_ms
        if usual is not None and change.note in range(count) and gap >= max(SLOW_CHANGE_MS, 2 * usual):
            yield change.note, round(gap), round(usual)
