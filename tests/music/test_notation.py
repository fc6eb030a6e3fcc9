"""The typed text form: what it means, and where it points when something is wrong."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exercises.music.errors import MusicError
from exercises.music.notation import format_notation, parse_notation
from exercises.music.pitch import Pitch
from exercises.music.score import FOUR_FOUR, Line, Metre, Note, line_from_json, line_to_json


def typed(text, *, metre=FOUR_FOUR, fifths=0):
    return parse_notation(text, label="A", metre=metre, fifths=fifths)


def test_lengths_octaves_and_ties_carry_on():
    line = typed("Bb4:2 A | G:1 F#~ F# rest | Bb4:4 |")
    assert line.bars == (
        (Note(Pitch("B", -1, 4), Fraction(2)), Note(Pitch("A", 0, 4), Fraction(2))),
        (
            Note(Pitch("G", 0, 4), Fraction(1)),
            Note(Pitch("F", 1, 4), Fraction(1), tied=True),
            Note(Pitch("F", 1, 4), Fraction(1)),
            Note(None, Fraction(1)),
        ),
        (Note(Pitch("B", -1, 4), Fraction(4)),),
    )


def test_missing_octave_means_the_nearest_note():
    line = typed("B3 C D B | G C F E")
    assert [note.pitch.name for note in line.notes] == ["B3", "C4", "D4", "B3", "G3", "C4", "F4", "E4"]


def test_music_signs_small_letters_and_line_breaks_are_read():
    assert typed("b♭3 f♯4\nbb3 b3") == typed("Bb3 F#4 Bb3 B3")


def test_dotted_and_short_lengths():
    line = typed("C4:1.5 D:1/2 E:0.75 F:1/4 G:1")
    assert [note.beats for note in line.notes] == [Fraction(n, 4) for n in (6, 2, 3, 1, 4)]


def test_pickup_counts_from_the_end_of_a_bar():
    line = typed("pickup F4 | Bb4:4 | A:3")
    assert [(ref.bar, ref.beat) for ref in line.refs()] == [(0, 4), (1, 1), (2, 1)]


@pytest.mark.parametrize(
    ("text", "position", "message"),
    [
        ("C4 D E H4", 7, "“H4” is not a note: start with a letter from A to G, or write “rest”."),
        ("D E", 0, "Give the first note its octave number, for example D4."),
        ("C4 D | E:4", 0, "Bar 1 has 2 beats, but 4/4 needs 4 beats: add 2 beats."),
        ("C4:4 | D:2 E F", 7, "Bar 2 has 6 beats, but 4/4 needs 4 beats: take away 2 beats."),
        ("C4:5", 2, "“:5” cannot be printed as one note: use 4, 3, 2, 1.5, 1, 0.5 or 0.25, or tie notes."),
        (
            "C4:1/0 D",
            2,
            "“:1/0” cannot be printed as one note: use 4, 3, 2, 1.5, 1, 0.5 or 0.25, or tie notes.",
        ),
        ("C4! D E F", 2, "“!” is not understood here: a length is written like :2, a tie like ~."),
        ("C4 D rest~ E", 9, "A rest cannot be tied: take the ~ away."),
        (
            "C4 D~ E F",
            3,
            "Bar 1, beat 2: a tie must lead to the same note. Take the tie away or repeat the note.",
        ),
        ("C4:4 | | D", 7, "Bar 2 is empty: write a rest in it, or take one bar line away."),
        ("", 0, "There is no note in this line yet: write at least one."),
        ("rest:4", 0, "There is no note in this line yet: write at least one."),
        ("pickup F4 | Bb4:3 | C5:4", 12, "Bar 1 has 3 beats, but 4/4 needs 4 beats: add 1 beat."),
    ],
)
def test_fault_points_at_its_character(text, position, message):
    with pytest.raises(MusicError) as raised:
        typed(text)
    assert raised.value.message == message
    assert raised.value.position == position


def test_endless_text_is_refused():
    with pytest.raises(MusicError, match="too long"):
        typed("C4 " * 4000)
    with pytest.raises(MusicError, match="at most 64 bars"):
        typed("C4:4 | " * 80)


def test_metre_must_be_one_a_band_meets():
    assert Metre.parse("6/8").quarters == 3
    for bad in ("4", "4/0", "0/4", "13/8", "4/16", "a/b", "-4/4"):
        with pytest.raises(MusicError):
            Metre.parse(bad)


def pitches(lowest=1, highest=6):
    """Any spelled note with at most one sign in these octaves."""
    return st.builds(
        Pitch, st.sampled_from("CDEFGAB"), st.sampled_from((-1, 0, 1)), st.integers(lowest, highest)
    )


PITCHES = pitches()
BARS = st.sampled_from(((4,), (2, 2), (1, 1, 2), (3, 1), (1, 1, 1, 1), (Fraction(3, 2), Fraction(1, 2), 2)))


@st.composite
def lines(draw, lowest=1, highest=6):
    """Random lines in 4/4 with rests and ties."""
    some = pitches(lowest, highest)
    notes = []
    for lengths in draw(st.lists(BARS, min_size=1, max_size=6)):
        notes.append([Note(draw(st.none() | some), Fraction(beats)) for beats in lengths])
    if not any(note.pitch for bar in notes for note in bar):
        notes[0][0] = Note(Pitch("C", 0, lowest), notes[0][0].beats)
    flat = [(b, n) for b, bar in enumerate(notes) for n in range(len(bar))]
    for (b, n), (b2, n2) in pairwise(flat):
        here = notes[b][n]
        if here.pitch and draw(st.booleans()) and draw(st.booleans()):
            notes[b][n] = Note(here.pitch, here.beats, tied=True)
            notes[b2][n2] = Note(here.pitch, notes[b2][n2].beats)
    return Line("A", tuple(map(tuple, notes)), FOUR_FOUR, draw(st.integers(-7, 7)))


@given(lines())
def test_text_form_and_stored_form_give_the_line_back(line):
    line.validate()
    assert typed(format_notation(line), fifths=line.fifths) == line
    assert line_from_json(line_to_json(line)) == line


@pytest.mark.parametrize(
    "stored",
    [
        {},
        {"label": "A", "metre": "4/4", "fifths": 0, "bars": [[{"pitch": "H4", "beats": "4"}]]},
        {"label": "A", "metre": "4/4", "fifths": 0, "bars": [[{"pitch": "C4", "beats": "1/0"}]]},
        {"label": "A", "metre": "4/4", "fifths": 0, "bars": 7},
        {"label": "A", "metre": "4/4", "fifths": 99, "bars": [[{"pitch": "C4", "beats": "4"}]]},
        {"label": "A", "metre": None, "fifths": 0, "bars": []},
    ],
)
def test_damaged_stored_line_is_refused(stored):
    with pytest.raises(MusicError):
        line_from_json(stored)
