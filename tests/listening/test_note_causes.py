"""One note by itself: the same rules as for a whole line, so that the desk and a section's picture agree.

The rules are standard notation's, as in `test_misreading`. Every cause with its words is in the tests of the
section's picture.
"""

import pytest

from submissions.listening.evidence import Cause
from submissions.listening.note_causes import cause_at
from submissions.listening.score import Score
from tests.listening.test_misreading import B_FLAT, KEPT_THROUGHOUT, SIGNS, part, sounding, unprinted

OF_THE_KEY = {Cause.LAST_FLAT_FORGOTTEN: Cause.KEY_FORGOTTEN, Cause.LAST_SHARP_FORGOTTEN: Cause.KEY_FORGOTTEN}


@pytest.mark.parametrize(("score", "cause"), KEPT_THROUGHOUT)
def test_each_note_of_a_habit_has_the_habits_cause(score, cause):
    for note, (played, written) in enumerate(zip(sounding(score, cause), score.midis, strict=True)):
        if played != written:
            assert cause_at(score, note, played).cause is OF_THE_KEY.get(cause, cause)


@pytest.mark.parametrize(
    ("bars", "fifths", "note", "played", "cause", "source"),
    [
        ("F#4 G4 F#4 F4", 0, 2, 65, Cause.SIGN_NOT_CARRIED, 0),
        ("F#4 F4 G4 F4", 0, 3, 66, Cause.SIGN_NOT_CARRIED, 1),
        ("F#4 F4 G4 F4", 0, 1, 66, Cause.NATURAL_MISSED, 0),
        ("F#4 G4 A4 F5", 0, 3, 78, Cause.SIGN_OF_OTHER_OCTAVE, 0),
        ("F#4 G4 A4 B4 | F5 G4 A4 B4", 0, 4, 78, Cause.SIGN_CARRIED_OVER_BARLINE, 0),
        ("F#4 G4 A4 B4 | G4 F4 A4 B4", 1, 5, 66, Cause.NATURAL_MISSED, None),
        ("G4 A4 B4 C5", 0, 0, 76, Cause.OTHER_NOTE, None),
    ],
)
def test_a_sign_is_traced_to_where_it_stands(bars, fifths, note, played, cause, source):
    found = cause_at(part(bars, fifths=fifths), note, played)
    assert (found.cause, found.source) == (cause, source)


def test_a_note_tied_over_the_barline_keeps_its_sign_for_itself_alone():
    """F-sharp held for two beats into the next bar, then F."""
    notes = [
        {"midi": 66, "start_beat": 2, "beats": 4, "written": written("F", 1, 1, 3)},
        {"midi": 65, "start_beat": 6, "beats": 2, "written": written("F", 0, 2, 3)},
    ]
    score = Score.from_json({"instrument": "flute", "notes": notes, "fifths": 0})
    assert cause_at(score, 1, 66).cause is Cause.SIGN_AFTER_TIE


def written(letter: str, alter: int, bar: int, beat: int) -> dict:
    return {"letter": letter, "alter": alter, "octave": 4, "bar": bar, "beat": beat}


def test_the_listeners_own_name_for_a_pitch_is_kept():
    read_as = cause_at(B_FLAT, 0, 66, name="Gb4").read_as
    assert (read_as.letter, read_as.alter, read_as.octave) == ("G", -1, 4)
    assert cause_at(SIGNS, 0, 61).read_as.letter == "C"


def test_without_the_printed_page_there_is_no_cause():
    with pytest.raises(ValueError, match="as it is printed"):
        cause_at(unprinted(SIGNS), 0, 66)
