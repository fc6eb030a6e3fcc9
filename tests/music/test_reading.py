"""Signs, reasons and causes against hand-typed cases (data/cases.json) and laws of notation."""

import json
from pathlib import Path

import pytest

from exercises.music.pitch import Pitch
from exercises.music.reading import Accidental, Reason, read
from tests.music.cases import line_of

CASES = json.loads((Path(__file__).parent / "data" / "cases.json").read_text(encoding="utf-8"))
SIGN_LETTER = {Accidental.SHARP: "#", Accidental.FLAT: "b", Accidental.NATURAL: "n"}


def signs_text(readings, line):
    """Signs as the cases write them: . none, (n) a courtesy natural; rests are skipped."""
    words = []
    bar = None
    for reading in readings:
        if bar is not None and reading.ref.bar != bar:
            words.append("|")
        bar = reading.ref.bar
        if reading.reason is Reason.REST:
            continue
        sign = SIGN_LETTER[reading.accidental] if reading.accidental else "."
        words.append(f"({sign})" if reading.courtesy else sign)
    return " ".join(words)


@pytest.mark.parametrize("case", CASES["accidentals"], ids=lambda case: case["id"])
def test_hand_typed_case_is_read_to_the_letter(case):
    line = line_of(case["notes"], fifths=case["key_fifths"])
    readings = read(line)
    reasons = " ".join(reading.reason for reading in readings if reading.reason is not Reason.REST)
    assert signs_text(readings, line) == case["signs"]
    assert reasons == case["reasons"].replace("| ", "")
    assert [note.pitch and note.pitch.midi for note in line.notes] == [m for bar in case["midi"] for m in bar]


def test_carried_note_points_to_the_sign_that_set_it():
    readings = read(line_of("G4 G#4 A4 G#4"))
    assert readings[3].cause == readings[1].ref
    assert readings[3].words == "Still G sharp: the sharp on beat 2 lasts to the bar line."


def test_tied_note_points_to_the_bar_it_comes_from():
    readings = read(line_of("A4 G4 A4 C#5~ | C#5 B4 A4 B4"))
    assert readings[4].cause == readings[3].ref
    assert readings[4].words == "Held over from bar 1, beat 4: the same C sharp, no new start."


def test_note_after_the_bar_line_points_to_the_sign_it_ended():
    readings = read(line_of("E4 F4 E4 G4 | Eb4 F4 G4 F4", fifths=-3))
    assert readings[4].cause == readings[2].ref
    assert readings[4].words == (
        "The bar line ended the natural of bar 1: E is flat again, as in the key signature."
    )


def test_other_octave_points_to_the_sign_on_the_other_line():
    readings = read(line_of("F#4 G4 A4 F5"))
    assert readings[3].cause == readings[0].ref
    assert readings[3].words == "The sharp on beat 1 was on the other F: this one stays plain."


def test_key_and_sign_need_no_cause():
    readings = read(line_of("Ab4 A4 Bb4 Ab4", fifths=-3))
    assert [reading.cause for reading in readings] == [None] * 4
    assert readings[0].words == "A is flat because of the key signature."
    assert readings[1].words == (
        "The natural in front of it makes it A natural. "
        "It overrules the flat in the key signature until the bar line."
    )
    assert readings[3].words == "The flat in front of it makes it A flat. It ends the natural on beat 2."


def test_courtesy_signs_can_be_switched_off_and_required_ones_stay():
    line = line_of("G#4 A4 G#4 A4 | G4 A4 B4 G#4")
    assert [r.accidental for r in read(line, courtesy=False)] == [Accidental.SHARP] + [None] * 6 + [
        Accidental.SHARP
    ]
    assert [r.courtesy for r in read(line)] == [False] * 4 + [True] + [False] * 3


def test_sign_after_a_courtesy_sign_in_the_same_bar_is_required():
    readings = read(line_of("G#4 A4 B4 A4 | G4 G#4 G4 A4"))
    assert [r.accidental for r in readings[4:7]] == [Accidental.NATURAL, Accidental.SHARP, Accidental.NATURAL]
    assert [r.courtesy for r in readings[4:7]] == [True, False, False]


def test_double_sharp_is_read_with_its_own_sign():
    line = line_of("F4 G4 A4 B4")
    assert Pitch.parse("F##4").midi == 67
    assert read(line_of("F##4 G4 A4 B4"))[0].accidental is Accidental.DOUBLE_SHARP
    assert all(reading.reason is Reason.PLAIN for reading in read(line))
