"""What does the engine say of a take?

Unknown is None, never zero. Nothing here is a mark. `to_json` is what is kept and printed, rounded to what
can be heard; `from_json` reads it back, also where an older engine wrote less.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, Self

from submissions.listening import ENGINE_VERSION
from submissions.listening.errors import HearingError

FORM = 1
"""Of the JSON. It is raised when a reader of the form before would understand something wrong."""

UNSURE_BELOW = 0.5
"""Below this confidence the director is asked to listen."""
STOPPED_EARLY_NOTES = 2
"""Missing from the end, at least this many: one note may be a release too soft to hear."""
SAME_LINE = 0.5
"""Share of notes as written, of those reached, under which it is probably another line."""


class Verdict(StrEnum):
    AS_WRITTEN = "as_written"
    OTHER_PITCH = "other_pitch"
    NOT_HEARD = "not_heard"
    UNSURE = "unsure"


class Quality(StrEnum):
    """What is wrong with the recording itself."""

    CLIPPED = "clipped"
    QUIET = "very_quiet"
    NOISY = "noisy"
    SILENT = "silent"
    NOBODY_PLAYS = "nobody_plays"
    ONLY_CLICKS = "only_clicks"
    ONLY_SPEECH = "only_speech"
    CUT_OFF = "cut_off"


class Cause(StrEnum):
    """Why notes went wrong: the first eight explain several of a line at once, all but those one alone.

    The desk and the picture of a section name the same one for the same thing.
    """

    KEY_FORGOTTEN = "key_forgotten"
    LAST_SHARP_FORGOTTEN = "last_sharp_forgotten"
    LAST_FLAT_FORGOTTEN = "last_flat_forgotten"
    SIGN_NOT_CARRIED = "sign_not_carried"
    SIGN_CARRIED_OVER_BARLINE = "sign_carried_over_barline"
    NATURAL_MISSED = "natural_missed"
    NEIGHBOUR_FINGERING = "neighbour_fingering"
    OTHER_INSTRUMENT = "other_instrument"
    SIGN_OVERLOOKED = "sign_overlooked"
    SIGN_AFTER_TIE = "sign_after_tie"
    SIGN_OF_OTHER_OCTAVE = "sign_of_other_octave"
    ADDED_SIGN = "added_sign"
    NEIGHBOUR_NOTE = "neighbour_note"
    OTHER_OCTAVE = "other_octave"
    STAYED = "stayed"
    OTHER_NOTE = "other_note"
    NOT_HEARD = "not_heard"
    MIXED = "mixed"


@dataclass(frozen=True, slots=True)
class NoteHeard:
    """What was heard where one written note stood."""

    verdict: Verdict
    leaning: Verdict
    """What the verdict would be if it had to be given; differs from it only when unsure."""
    confidence: float
    heard_midi: int | None = None
    heard_written: str | None = None
    """The sounded pitch in the student's own letter names, as "F#4"; None without a written note."""
    cents: float | None = None
    """From the heard semitone, as sounded."""
    cents_in_tune: float | None = None
    """The same after the take's own overall tuning."""
    onset_seconds: float | None = None
    held_seconds: float | None = None
    held_share: float | None = None
    """Held against written, at the student's own tempo."""
    beats_off: float | None = None
    """Late is above zero, early below, against the student's own local tempo."""
    why_unsure: str | None = None

    def to_json(self) -> dict[str, Any]:
        return {
            "verdict": self.verdict.value,
            "leaning": self.leaning.value,
            "confidence": round(self.confidence, 3),
            "heard_midi": self.heard_midi,
            "heard_written": self.heard_written,
            "cents": _rounded(self.cents, 1),
            "cents_in_tune": _rounded(self.cents_in_tune, 1),
            "onset_seconds": _rounded(self.onset_seconds, 4),
            "held_seconds": _rounded(self.held_seconds, 3),
            "held_share": _rounded(self.held_share, 2),
            "beats_off": _rounded(self.beats_off, 3),
            "why_unsure": self.why_unsure,
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        verdict = Verdict(data["verdict"])
        return cls(
            verdict=verdict,
            leaning=Verdict(data.get("leaning", verdict)),
            confidence=data.get("confidence", 0.0),
            heard_midi=data.get("heard_midi"),
            heard_written=data.get("heard_written"),
            cents=data.get("cents"),
            cents_in_tune=data.get("cents_in_tune", data.get("cents")),
            onset_seconds=data.get("onset_seconds"),
            held_seconds=data.get("held_seconds"),
            held_share=data.get("held_share"),
            beats_off=data.get("beats_off"),
            why_unsure=data.get("why_unsure"),
        )


@dataclass(frozen=True, slots=True)
class Extra:
    """A note that is not in the part."""

    midi: int
    onset_seconds: float
    held_seconds: float

    def to_json(self) -> dict[str, Any]:
        return {
            "midi": self.midi,
            "onset_seconds": round(self.onset_seconds, 4),
            "held_seconds": round(self.held_seconds, 3),
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        return cls(data["midi"], data["onset_seconds"], data.get("held_seconds", 0.0))


@dataclass(frozen=True, slots=True)
class Attempt:
    """An earlier start, given up and played again."""

    first_note: int
    last_note: int
    onset_seconds: float
    end_seconds: float

    def to_json(self) -> dict[str, Any]:
        return {
            "first_note": self.first_note,
            "last_note": self.last_note,
            "onset_seconds": round(self.onset_seconds, 3),
            "end_seconds": round(self.end_seconds, 3),
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        return cls(data["first_note"], data["last_note"], data["onset_seconds"], data["end_seconds"])


@dataclass(frozen=True, slots=True)
class Misreading:
    """The likeliest single reason for the wrong notes."""

    cause: Cause
    sentence: str
    notes: tuple[int, ...]
    """Indices of the notes it explains."""
    log_odds: float
    other_possible: Cause | None = None
    """A second reading that fits about as well."""

    def to_json(self) -> dict[str, Any]:
        return {
            "cause": self.cause.value,
            "sentence": self.sentence,
            "notes": list(self.notes),
            "log_odds": round(self.log_odds, 2),
            "other_possible": self.other_possible.value if self.other_possible else None,
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        other = data.get("other_possible")
        return cls(
            cause=Cause(data["cause"]),
            sentence=data["sentence"],
            notes=tuple(data.get("notes") or ()),
            log_odds=data.get("log_odds", 0.0),
            other_possible=Cause(other) if other else None,
        )


@dataclass(frozen=True, slots=True)
class Change:
    """How smoothly one note led to the next where an alternate fingering is recommended."""

    note: int
    gap_ms: float
    usual_gap_ms: float | None
    """Median of the student's other note changes."""

    def to_json(self) -> dict[str, Any]:
        return {
            "note": self.note,
            "gap_ms": round(self.gap_ms),
            "usual_gap_ms": None if self.usual_gap_ms is None else round(self.usual_gap_ms),
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        return cls(data["note"], data["gap_ms"], data.get("usual_gap_ms"))


@dataclass(frozen=True, slots=True)
class Evidence:
    """Everything heard of one score, or of one line of it."""

    notes: tuple[NoteHeard, ...]
    extra: tuple[Extra, ...] = ()
    tempo_bpm: float | None = None
    steadiness: float | None = None
    """Median distance of a note from the student's own steady beat, in beats."""
    tuning_cents: float | None = None
    restarted: bool | None = None
    attempts: tuple[Attempt, ...] = ()
    transposed_semitones: int | None = None
    transposed_sentence: str | None = None
    other_line: bool | None = None
    stopped_early: bool | None = None
    quality: tuple[Quality, ...] = ()
    misreading: Misreading | None = None
    changes: tuple[Change, ...] = ()
    seconds: float = 0.0
    engine_version: str = field(default=ENGINE_VERSION)

    def to_json(self) -> dict[str, Any]:
        return {
            "form": FORM,
            "notes": [note.to_json() for note in self.notes],
            "extra": [extra.to_json() for extra in self.extra],
            "tempo_bpm": _rounded(self.tempo_bpm, 2),
            "steadiness": _rounded(self.steadiness, 3),
            "tuning_cents": _rounded(self.tuning_cents, 1),
            "restarted": self.restarted,
            "attempts": [attempt.to_json() for attempt in self.attempts],
            "transposed_semitones": self.transposed_semitones,
            "transposed_sentence": self.transposed_sentence,
            "other_line": self.other_line,
            "stopped_early": self.stopped_early,
            "quality": [item.value for item in self.quality],
            "misreading": self.misreading.to_json() if self.misreading else None,
            "changes": [change.to_json() for change in self.changes],
            "seconds": round(self.seconds, 3),
            "engine_version": self.engine_version,
        }

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Self:
        """Raises HearingError for what this engine cannot read. Without a form it is of the first.

        What a later engine found wrong with a recording, and this one has no word for, is left out.
        """
        if data.get("form", 1) != FORM:
            raise HearingError(f"Evidence of form {data['form']}; this version of the listener reads {FORM}.")
        try:
            misreading = data.get("misreading")
            return cls(
                notes=tuple(map(NoteHeard.from_json, data.get("notes") or ())),
                extra=tuple(map(Extra.from_json, data.get("extra") or ())),
                tempo_bpm=data.get("tempo_bpm"),
                steadiness=data.get("steadiness"),
                tuning_cents=data.get("tuning_cents"),
                restarted=data.get("restarted"),
                attempts=tuple(map(Attempt.from_json, data.get("attempts") or ())),
                transposed_semitones=data.get("transposed_semitones"),
                transposed_sentence=data.get("transposed_sentence"),
                other_line=data.get("other_line"),
                stopped_early=data.get("stopped_early"),
                quality=tuple(Quality(item) for item in data.get("quality") or () if item in Quality),
                misreading=Misreading.from_json(misreading) if misreading else None,
                changes=tuple(map(Change.from_json, data.get("changes") or ())),
                seconds=data.get("seconds", 0.0),
                engine_version=data.get("engine_version", ""),
            )
        except (AttributeError, KeyError, TypeError, ValueError) as error:
            raise HearingError(f"The evidence cannot be read ({type(error).__name__}: {error}).") from error


def _rounded(value: float | None, places: int) -> float | None:
    return None if value is None else round(value, places)
