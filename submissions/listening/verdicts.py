"""What is said of each written note?

Definition: the sound that stands for a note is as written where it has the written pitch, and another pitch
where it has not; without a sound the note was not heard. It is unsure, and the director is asked to listen,
where the pitch itself is in doubt, where a repeat could not be parted from the sound beside it, or where
another reading of the take fits about as well and tells something else of the note: then both are named.

Assumptions: a note that a misreading of the part explains is not in doubt, however its neighbours are read.
"""

from collections.abc import Collection, Mapping

from submissions.listening.alternatives import AS_WRITTEN_WITHIN, WITHIN, Alternative
from submissions.listening.evidence import UNSURE_BELOW, NoteHeard, Verdict
from submissions.listening.performance import Performance, Sounded
from submissions.listening.score import Score, ScoreNote
from submissions.listening.spelling import letter_name, name

NOT_HEARD_CONFIDENCE = 0.8
MERGED_CONFIDENCE = 0.4


def notes_heard(
    performance: Performance,
    spelled: Score,
    *,
    beats_off: Mapping[int, float | None],
    explained: Collection[int],
) -> tuple[NoteHeard, ...]:
    """One for each written note of `spelled`, in order; `explained` are those of the likely misreading."""
    by_note = {item.note: item for item in performance.sounded}
    alternatives = {
        alternative.note: alternative
        for alternative in performance.alternatives
        if alternative.note not in explained
    }
    found = []
    for index, written in enumerate(spelled.notes):
        item = by_note.get(index)
        doubt = _doubt(alternatives.get(index), item, written, performance, spelled)
        if item is None:
            found.append(_silent(merged=index in performance.merged, doubt=doubt))
        else:
            found.append(_sounding(item, written, performance, spelled, beats_off.get(index), doubt))
    return tuple(found)


def _silent(*, merged: bool, doubt: tuple[float, str] | None) -> NoteHeard:
    confidence, why = NOT_HEARD_CONFIDENCE, None
    if merged:
        confidence, why = MERGED_CONFIDENCE, "could not be separated from the note beside it"
    elif doubt:
        confidence, why = doubt
    return NoteHeard(
        verdict=Verdict.UNSURE if why else Verdict.NOT_HEARD,
        leaning=Verdict.NOT_HEARD,
        confidence=confidence,
        why_unsure=why,
    )


def _sounding(
    item: Sounded,
    written: ScoreNote,
    performance: Performance,
    spelled: Score,
    off: float | None,
    doubt: tuple[float, str] | None,
) -> NoteHeard:
    target = written.midi + performance.transposed
    leaning = Verdict.AS_WRITTEN if item.pitch == target else Verdict.OTHER_PITCH
    confidence, why = item.certainty, item.doubt
    if why is None and leaning is Verdict.OTHER_PITCH and confidence < UNSURE_BELOW:
        why = "another pitch fits about as well"
    if why is None and doubt:
        confidence, why = min(confidence, doubt[0]), doubt[1]
    if confidence >= UNSURE_BELOW:
        why = None
    held = item.end - item.onset
    paced = len(performance.sounded) > 1  # enough to show a tempo
    return NoteHeard(
        verdict=Verdict.UNSURE if why else leaning,
        leaning=leaning,
        confidence=confidence,
        heard_midi=item.pitch,
        heard_written=_name(item.pitch, written, performance, spelled),
        cents=item.cents,
        cents_in_tune=None if item.cents is None else item.cents - 100.0 * performance.tuning,
        onset_seconds=item.onset,
        held_seconds=held,
        held_share=held / (written.beats * performance.seconds_per_beat) if paced else None,
        beats_off=off,
        why_unsure=why,
    )


def _doubt(
    alternative: Alternative | None,
    item: Sounded | None,
    written: ScoreNote,
    performance: Performance,
    spelled: Score,
) -> tuple[float, str] | None:
    """(confidence, both readings in words), where the alternative fits about as well as what was heard."""
    if alternative is None:
        return None
    target, pitch = written.midi + performance.transposed, item.pitch if item else None
    within = AS_WRITTEN_WITHIN if pitch == target else WITHIN
    if alternative.behind >= within:
        return None
    own, other = (
        _in_words(told, target, _name(told, written, performance, spelled))
        for told in (pitch, alternative.pitch)
    )
    return UNSURE_BELOW * alternative.behind / within, f"either {own} or {other}"


def _in_words(pitch: int | None, target: int, written_name: str | None) -> str:
    if pitch is None:
        return "left out"
    if pitch == target:
        return "as written"
    return f"played as {letter_name(written_name)}" if written_name else "another pitch"


def _name(pitch: int | None, written: ScoreNote, performance: Performance, spelled: Score) -> str | None:
    """What sounds in the student's own letter names, as "F#4"; None without a written note."""
    if pitch is None or written.written is None:
        return None
    sounding_right = written.midi + performance.transposed
    return name(written.written.midi + pitch - sounding_right, spelled.fifths or 0)
