"""Which notes are altered, and what a student found of them."""

from exercises.music.notation import parse_notation
from exercises.music.part import make_part
from exercises.music.reading import read
from exercises.music.score import FOUR_FOUR
from exercises.music.watching import answer_taps
from tests.music.cases import line_of


def altered(text, *, fifths=0):
    return [reading.ref.index for reading in read(line_of(text, fifths=fifths)) if reading.altered]


def test_key_sign_and_carried_notes_are_altered():
    assert altered("D4 F#4 A4 C#5", fifths=2) == [1, 3]
    assert altered("G4 G#4 A4 G#4") == [1, 3]


def test_natural_against_the_key_is_altered_and_a_cancelled_sharp_is_not():
    assert altered("E4 F4 E4 G4 | Eb4 F4 G4 F4", fifths=-3) == [0, 2, 4]
    assert altered("G#4 A4 G4 A4 | G4 A4 G4 A4") == [0]
    assert altered("F#4 G4 A4 F5") == [0]


def part():
    line = parse_notation("Bb3:1 A G# A | G#:2 F~ | F:1 rest Eb:2", label="A", metre=FOUR_FOUR, fifths=-2)
    return make_part(line, "flute", octave=1)


def test_taps_are_right_missed_or_extra_each_with_its_reason():
    taps = answer_taps(part(), {0, 1, 4, 7})
    assert [note.ref.index for note in taps.right] == [0, 4]
    assert [note.ref.index for note in taps.missed] == [2, 8]
    assert [note.ref.index for note in taps.extra] == [1]
    assert taps.missed[0].words == "The sharp in front of it makes it G sharp."
    assert taps.extra[0].words == "Plain A: no sign, and not in the key signature."
    assert not taps.all_found


def test_all_found_and_nothing_else():
    assert answer_taps(part(), {0, 2, 4, 8}).all_found


def test_held_note_may_be_tapped_or_left():
    line = parse_notation("A3:1 A A G#~ | G#:4", label="A", metre=FOUR_FOUR, fifths=0)
    held = make_part(line, "flute", octave=1)
    assert answer_taps(held, {3}).all_found
    assert answer_taps(held, {3, 4}).all_found
    assert len(answer_taps(held, {3, 4}).right) == 2


def test_drum_part_has_nothing_to_find():
    line = parse_notation("Bb3:4", label="A", metre=FOUR_FOUR, fifths=-2)
    assert answer_taps(make_part(line, "snare"), set()).all_found
