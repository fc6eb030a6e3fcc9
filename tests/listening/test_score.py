"""A score is read whole or refused with the first thing that is wrong."""

import pytest

from submissions.listening.errors import HearingError
from submissions.listening.score import Score
from tests.listening.tones import score_of


def test_a_plain_score_is_read():
    score = Score.from_json(
        {
            "instrument": "alto_sax",
            "tempo_bpm": 72,
            "beats_per_bar": 3,
            "notes": [{"midi": 60, "start_beat": 0, "beats": 2}, {"midi": 62, "start_beat": 2, "beats": 1}],
        }
    )
    assert (score.midis, score.beats) == ([60, 62], [0.0, 2.0])
    assert (score.tempo_bpm, score.beats_per_bar, score.fifths) == (72.0, 3.0, None)
    assert not score.struck


@pytest.mark.parametrize("name", ["bells", "Xylophone", "orchestra_bells", "marimba"])
def test_mallet_instruments_are_struck(name):
    assert Score.from_json(score_of([80], instrument=name)).struck


def test_a_score_may_say_how_its_instrument_sounds():
    told = {"transposition": -9, "struck": False}
    score = Score.from_json({**score_of([60], instrument="bells"), **told})
    assert (score.transposition, score.struck) == (-9, False)
    assert Score.from_json(score_of([60], instrument="kazoo")).transposition is None


def test_written_notes_are_read():
    data = score_of([58])
    data["fifths"] = -2
    data["notes"][0]["written"] = {
        "letter": "B", "alter": -1, "octave": 4, "bar": 1, "beat": 1, "reason": "key",
    }  # fmt: skip
    note = Score.from_json(data).notes[0].written
    assert (note.letter, note.alter, note.octave, note.midi) == ("B", -1, 4, 70)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"notes": []}, "no notes"),
        ({"notes": [{"start_beat": 0, "beats": 1}]}, "Note 1 .* midi"),
        ({"notes": [{"midi": True, "start_beat": 0, "beats": 1}]}, "Note 1 .* midi"),
        ({"notes": [{"midi": 60, "start_beat": -101, "beats": 1}]}, "start_beat"),
        ({"notes": [{"midi": 60, "start_beat": 0, "beats": 0}]}, "beats above zero"),
        ({"notes": [{"midi": 60, "start_beat": 0, "beats": 1}] * 2}, "Note 2 .* start after"),
        ({"tempo_bpm": 0}, "tempo"),
        ({"beats_per_bar": "4"}, "beats per bar"),
        ({"fifths": 9}, "key signature"),
        ({"alternates": [0]}, "alternates"),
        ({"transposition": "-2"}, "transposition"),
        ({"transposition": 60}, "transposition"),
        ({"lines": [{"score": score_of([60])}]}, "Line 1 .* label"),
        ({"lines": [{"label": "A", "score": score_of([60])}]}, "lines do not have its notes"),
        ({"lines": [{"label": "A", "stretch": 0, "score": score_of([60, 62])}]}, "stretch"),
        ({"notes": "C D E"}, "no notes"),
    ],
)
def test_what_is_wrong_is_named(change, says):
    with pytest.raises(HearingError, match=says):
        Score.from_json({**score_of([60, 62]), **change})


def test_a_list_is_no_score():
    with pytest.raises(HearingError, match="not a JSON object"):
        Score.from_json([])
