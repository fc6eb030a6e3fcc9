"""Invented evidence, in the listener's own JSON form, for tests of the shelf and the desk."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.utils.timezone import now

from submissions.models import Hearing, Take
from submissions.takes.heard_lines import ear_of

AS_WRITTEN: dict[str, Any] = {
    "verdict": "as_written",
    "confidence": 0.97,
    "beats_off": 0.02,
    "held_share": 0.9,
}
NOT_HEARD: dict[str, Any] = {
    "verdict": "not_heard",
    "confidence": 0.9,
    "onset_seconds": None,
    "heard_midi": None,
}


def other(steps: int, name: str | None = None) -> dict[str, Any]:
    return {"verdict": "other_pitch", "confidence": 0.93, "steps": steps, "heard_written": name}


def late(beats: float) -> dict[str, Any]:
    return {"beats_off": beats}


def unsure(why: str | None = None, steps: int = 0) -> dict[str, Any]:
    return {"verdict": "unsure", "confidence": 0.3, "steps": steps, "why_unsure": why}


def evidence(
    *,
    sounding: Sequence[int | None],
    starts: Sequence[float],
    slips: Mapping[int, Mapping[str, Any]] | None = None,
    first_seconds: float = 1.0,
    tempo: float = 72,
    **take: Any,
) -> dict[str, Any]:
    """As written at an even tempo, except for `slips` by note number; `take` overrides the rest."""
    notes = []
    for number, (midi, start) in enumerate(zip(sounding, starts, strict=True)):
        slip = dict((slips or {}).get(number, {}))
        steps = slip.pop("steps", 0)
        note = AS_WRITTEN | {
            "leaning": "as_written",
            "heard_midi": None if midi is None else midi + steps,
            "heard_written": None,
            "cents": 3.0,
            "cents_in_tune": 1.0,
            "onset_seconds": round(first_seconds + start * 60 / tempo, 3),
            "held_seconds": 0.7,
            "why_unsure": None,
        }
        note |= slip
        if note["onset_seconds"] is not None:
            note["onset_seconds"] += (note["beats_off"] if abs(note["beats_off"]) > 0.1 else 0) * 60 / tempo
        notes.append(note)
    return {
        "notes": notes,
        "extra": [],
        "tempo_bpm": tempo,
        "steadiness": 0.03,
        "tuning_cents": 4.0,
        "restarted": False,
        "attempts": [],
        "transposed_semitones": None,
        "transposed_sentence": None,
        "other_line": False,
        "stopped_early": False,
        "quality": [],
        "misreading": None,
        "changes": [],
        "seconds": 40.0,
        "engine_version": "1.0",
    } | take


def ear(decided: Mapping[str, str] | None) -> dict[int, Any]:
    """What the director's ear decided, as the shelf reads it."""
    return dict(ear_of({"A": dict(decided or {})}, "A"))


def make_hearing(
    *,
    take: Take,
    line: str,
    evidence: Mapping[str, Any] | None = None,
    overruled: Mapping[str, str] | None = None,
    engine_version: str = "1",
    **fields: Any,
) -> Hearing:
    """One hearing of a take, with what was heard of one line and the director's ear for it."""
    values = {
        "state": Hearing.State.DONE,
        "evidence": None if evidence is None else {line: dict(evidence)},
        "overruled": {line: dict(overruled)} if overruled else {},
        "queued_at": now(),
    }
    return Hearing.objects.create(take=take, engine_version=engine_version, **(values | fields))
