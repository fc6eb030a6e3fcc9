"""What is kept of a hearing is read back whole; what cannot be read is refused with a sentence."""

import pytest

from submissions.listening.errors import HearingError
from submissions.listening.evidence import (
    FORM,
    Attempt,
    Cause,
    Change,
    Evidence,
    Extra,
    Misreading,
    NoteHeard,
    Quality,
    Verdict,
)

NOTE = NoteHeard(
    Verdict.UNSURE, Verdict.OTHER_PITCH, 0.25, 61, "C#4", 3.0, 1.5, 1.25, 0.5, 0.75, -0.125, "too soft"
)
FULL = Evidence(
    notes=(NOTE, NoteHeard(Verdict.NOT_HEARD, Verdict.NOT_HEARD, 0.95)),
    extra=(Extra(64, 2.5, 0.25),),
    tempo_bpm=72.5,
    steadiness=0.125,
    tuning_cents=-7.5,
    restarted=True,
    attempts=(Attempt(0, 1, 0.5, 1.5),),
    transposed_semitones=2,
    transposed_sentence="Every note sounds 2 semitones above the part.",
    other_line=False,
    stopped_early=True,
    quality=(Quality.NOISY, Quality.CUT_OFF),
    misreading=Misreading(Cause.KEY_FORGOTTEN, "As if …", (0, 1), 2.5, Cause.LAST_FLAT_FORGOTTEN),
    changes=(Change(1, 90, None), Change(2, 90, 40)),
    seconds=12.5,
    engine_version="7",
)


@pytest.mark.parametrize("evidence", [FULL, Evidence(notes=())], ids=["all of it", "next to nothing"])
def test_what_is_kept_is_read_back_whole(evidence):
    assert Evidence.from_json(evidence.to_json()) == evidence
    assert evidence.to_json()["form"] == FORM == 1


def test_what_was_kept_before_forms_were_counted_is_of_the_first():
    kept = FULL.to_json()
    del kept["form"]
    assert Evidence.from_json(kept) == FULL


def test_a_recordings_fault_that_only_a_later_engine_knows_is_left_out():
    kept = FULL.to_json() | {"quality": ["noisy", "under water"]}
    assert Evidence.from_json(kept).quality == (Quality.NOISY,)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"form": 2}, "Evidence of form 2"),
        ({"notes": [{}]}, "KeyError: 'verdict'"),
        ({"notes": [{"verdict": "perhaps"}]}, "perhaps"),
        ({"notes": 4}, "TypeError"),
        ({"misreading": "the key"}, "cannot be read"),
        ({"attempts": [{"first_note": 0}]}, "last_note"),
    ],
)
def test_what_cannot_be_read_is_refused_with_a_sentence(change, says):
    with pytest.raises(HearingError, match=says):
        Evidence.from_json(FULL.to_json() | change)
