"""One line's share of the evidence of a take of several.

The take was heard as one piece. What is said of the whole (tempo, tuning, quality) holds for each line; what
is said of notes is counted again within the line: a restart in line B is none in line A, and the pause
between two lines is no restart at all.
"""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from statistics import median
from typing import Any

from submissions.listening.evidence import UNSURE_BELOW, Cause, Verdict
from submissions.listening.score import Score

#: Two moments closer than this are the same one.
SAME_MOMENT_SECONDS = 0.05
#: So many notes missing from the end are a stop, and under this share as written it is another line: both as
#: the listener has them for a whole take.
STOPPED_EARLY_NOTES = 2
SAME_LINE = 0.5
FEWEST_STEPS = 3


def cut(
    evidence: Mapping[str, Any], *, start: int, end: int, score: Mapping[str, Any], stretch: float = 1.0
) -> dict[str, Any]:
    """Notes `start` to `end` of the piece, counted from 0 again; `score` is this line alone.

    `stretch` is what one beat of this line is in beats of the piece.
    """
    notes: list[Mapping[str, Any]] = list(evidence.get("notes", []))
    own = [_in_own_beats(note, stretch) for note in notes[start:end]]
    attempts = [
        attempt for attempt in evidence.get("attempts") or () if not _is_held_over(attempt, notes, end=end)
    ]
    earlier = [found for attempt in attempts if (found := _own(attempt, notes, start=start, end=end))]
    if len(attempts) < len(evidence.get("attempts") or ()):
        # the tail of the long last note was taken for another start of it: how long it was held is not known
        own[-1] = {**own[-1], "held_seconds": None, "held_share": None, "beats_off": None}
    begun_before = bool(evidence.get("restarted")) and not evidence.get("attempts") and start == 0
    begins, ends = _bounds(notes, start=start, end=end)
    heard = [note for note in own if note.get("onset_seconds") is not None]
    right = sum(note.get("leaning", note.get("verdict")) == Verdict.AS_WRITTEN for note in own)
    return dict(evidence) | {
        "notes": own,
        "tempo_bpm": _tempo(own, score) or _scaled(evidence.get("tempo_bpm"), 1 / stretch),
        "steadiness": _scaled(evidence.get("steadiness"), 1 / stretch),
        "extra": [note for note in evidence.get("extra") or () if begins <= note["onset_seconds"] < ends],
        "attempts": earlier,
        "restarted": _known(evidence, "restarted", bool(earlier) or begun_before),
        "stopped_early": _known(
            evidence, "stopped_early", _missing_at_end(own) >= min(STOPPED_EARLY_NOTES, len(own))
        ),
        "other_line": _known(evidence, "other_line", bool(heard) and right < SAME_LINE * len(heard)),
        "misreading": _misreading(evidence.get("misreading"), own, start=start, end=end, score=score),
        "changes": [
            {**change, "note": change["note"] - start}
            for change in evidence.get("changes") or ()
            if start <= change["note"] < end
        ],
    }


def _in_own_beats(note: Mapping[str, Any], stretch: float) -> Mapping[str, Any]:
    off = note.get("beats_off")
    return note if off is None else {**note, "beats_off": round(off / stretch, 3)}


def _scaled(value: float | None, factor: float) -> float | None:
    return None if value is None else round(value * factor, 3)


def _tempo(own: Sequence[Mapping[str, Any]], score: Mapping[str, Any]) -> float | None:
    """The middle of the tempos from note to note; None where fewer than three steps were played on."""
    placed = [
        (note["onset_seconds"], float(asked["start_beat"]))
        for note, asked in zip(own, score["notes"], strict=True)
        if note.get("onset_seconds") is not None
    ]
    beats = [
        60 * (later - earlier) / (after - before)
        for (before, earlier), (after, later) in pairwise(placed)
        if after > before
    ]
    return round(median(beats), 2) if len(beats) >= FEWEST_STEPS else None


def _known(evidence: Mapping[str, Any], name: str, value: bool) -> bool | None:
    """What is unknown of the whole take stays unknown of its lines."""
    return None if evidence.get(name) is None else value


def _own(
    attempt: Mapping[str, Any], notes: Sequence[Mapping[str, Any]], *, start: int, end: int
) -> dict[str, Any] | None:
    """What of an earlier start lies in this line, if the student went back into it or before it."""
    first, last = max(attempt["first_note"], start), min(attempt["last_note"], end - 1)
    resumed = _resumed(attempt, notes)
    if first > last or resumed is None or resumed > last:
        return None
    onset = attempt["onset_seconds"]
    if first > attempt["first_note"]:
        before = [
            note["onset_seconds"] + (note.get("held_seconds") or 0.0)
            for note in notes[:start]
            if note.get("onset_seconds") is not None and note["onset_seconds"] < attempt["end_seconds"]
        ]
        onset = max([onset, *before])
    return {**attempt, "first_note": first - start, "last_note": last - start, "onset_seconds": onset}


def _is_held_over(attempt: Mapping[str, Any], notes: Sequence[Mapping[str, Any]], *, end: int) -> bool:
    """Whether this "restart" is the last note of the line still sounding, right before the next line."""
    return end < len(notes) and attempt["last_note"] == end - 1 == _resumed(attempt, notes)


def _resumed(attempt: Mapping[str, Any], notes: Sequence[Mapping[str, Any]]) -> int | None:
    """The first note that was played after this attempt."""
    ended = attempt["end_seconds"] - SAME_MOMENT_SECONDS
    return next(
        (
            number
            for number, note in enumerate(notes)
            if note.get("onset_seconds") is not None and note["onset_seconds"] >= ended
        ),
        None,
    )


def _bounds(notes: Sequence[Mapping[str, Any]], *, start: int, end: int) -> tuple[float, float]:
    """Seconds from and to which an extra note is nearer to this line than to its neighbours."""

    def onsets(some: Sequence[Mapping[str, Any]]) -> list[float]:
        return [note["onset_seconds"] for note in some if note.get("onset_seconds") is not None]

    before, own, after = onsets(notes[:start]), onsets(notes[start:end]), onsets(notes[end:])
    begins = (before[-1] + own[0]) / 2 if before and own else float("-inf")
    ends = (own[-1] + after[0]) / 2 if own and after else float("inf")
    return begins, ends


def _missing_at_end(own: Sequence[Mapping[str, Any]]) -> int:
    missing = 0
    for note in reversed(own):
        if note.get("onset_seconds") is not None:
            break
        missing += 1
    return missing


def _misreading(
    found: Mapping[str, Any] | None,
    own: Sequence[Mapping[str, Any]],
    *,
    start: int,
    end: int,
    score: Mapping[str, Any],
) -> dict[str, Any] | None:
    """Why this line's own notes went wrong; its sentence names this line's bars."""
    if found is not None and found.get("cause") == Cause.OTHER_INSTRUMENT:
        notes = [number - start for number in found.get("notes", ()) if start <= number < end]
        return {**found, "notes": notes} if notes else None
    from submissions.listening.causes import explain  # noqa: PLC0415 - numpy: not at a web worker's start

    heard = [note.get("heard_midi") if note.get("confidence", 0.0) >= UNSURE_BELOW else None for note in own]
    likely = explain(Score.from_json(score), heard)
    return likely.to_json() if likely else None
