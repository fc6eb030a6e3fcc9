"""A small seeded set of simulated beginners, so that a change that hears worse is seen at once.

The bounds are far under what the whole measurement (`python -m tests.bench.bench_listening`) reaches; a
dozen takes cannot prove a percentage.
"""

import pytest

from submissions.listening.evidence import Quality
from submissions.listening.hear import hear_take
from submissions.listening.score import Score
from tests.listening import scoring
from tests.listening.simulator.takes import NOBODY, make_take

pytestmark = pytest.mark.sound

LEVELS = ("clean", "typical", "hard")


def hear(take):
    return hear_take(audio=take.audio, score=Score.from_json(take.score))


def test_a_dozen_beginners():
    counts = scoring.Counts()
    for seed in range(12):
        take = make_take(seed, level=LEVELS[seed % 3])
        scoring.add(counts, take, hear(take).to_json())
    assert counts.notes["right"] >= 0.97 * counts.notes["all"]
    assert counts.notes["false alarm"] <= 0.02 * counts.notes["played right"]
    assert counts.other["pitch exact"] == counts.other["pitch"]
    assert counts.restart["false"] == counts.transposed["false"] == 0


@pytest.mark.parametrize("instrument", ["bells", "xylophone"])
def test_struck_bars(instrument):
    counts = scoring.Counts()
    for seed in range(3):
        take = make_take(seed, level=LEVELS[seed], instrument=instrument)
        scoring.add(counts, take, hear(take).to_json())
    assert counts.notes["right"] >= 0.95 * counts.notes["all"]


@pytest.mark.parametrize("instrument", ["bells", "xylophone", "marimba"])
def test_bars_that_ring_over_one_another(instrument):
    counts = scoring.Counts()
    for seed in range(3000, 3003):
        take = make_take(seed, kind="struck", level=LEVELS[seed % 3], instrument=instrument)
        scoring.add(counts, take, hear(take).to_json())
    assert counts.notes["right"] >= 0.97 * counts.notes["all"]


def test_bells_given_up_soon_are_heard_as_far_as_they_go():
    take = make_take(3002, kind="struck", level="clean", instrument="bells")
    score = Score.from_json(take.score)
    more = [
        {"midi": 91, "start_beat": score.notes[-1].start_beat + 8 + beat, "beats": 1} for beat in range(60)
    ]
    evidence = hear_take(
        audio=take.audio, score=Score.from_json({**take.score, "notes": take.score["notes"] + more})
    )
    assert evidence.stopped_early
    assert not evidence.other_line
    assert sum(note.onset_seconds is not None for note in evidence.notes) >= 0.9 * len(score.notes)


@pytest.mark.parametrize("kind", NOBODY)
@pytest.mark.parametrize("instrument", [None, "bells"])
def test_nobody_plays(kind, instrument):
    for seed in range(3000, 3002):
        evidence = hear(make_take(seed, kind=kind, instrument=instrument))
        assert {note.onset_seconds for note in evidence.notes} == {None}
        assert Quality.NOBODY_PLAYS in evidence.quality


def test_a_quiet_beginner_is_heard():
    counts = scoring.Counts()
    for seed in range(3000, 3003):
        take = make_take(seed, kind="quiet", level=LEVELS[seed % 3])
        scoring.add(counts, take, hear(take).to_json())
    assert counts.notes["right"] >= 0.95 * counts.notes["all"]


def test_another_part():
    for seed in range(3):
        take = make_take(seed, kind="transposed", level=LEVELS[seed])
        assert hear(take).transposed_semitones == take.truth.transposed


@pytest.mark.parametrize(
    ("kind", "causes"),
    [
        ("key_forgotten", {"key_forgotten"}),
        ("last_forgotten", {"last_sharp_forgotten", "last_flat_forgotten"}),
        ("sign_not_carried", {"sign_not_carried"}),
        ("sign_carried_over_barline", {"sign_carried_over_barline"}),
    ],
)
def test_the_cause_is_named(kind, causes):
    for seed in range(2):
        found = hear(make_take(seed, kind=kind, level=LEVELS[seed], spelled=True)).misreading
        assert found is not None
        assert {found.cause.value, found.other_possible and found.other_possible.value} & causes
