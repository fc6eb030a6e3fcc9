"""Reading ABC: signs carried as the ABC 2.1 standard says (section 4.2 and 11.3), nothing passed over."""

import pytest

from exercises.music.abc_in import read_abc
from exercises.music.errors import MusicError
from exercises.music.incoming import ProblemKind
from exercises.music.notation import format_notation
from exercises.music.uploads import read_upload


def read(tune, *, key="Bb", metre="4/4", more="", **options):
    head = f"X:1\nT:Sidesteps\nM:{metre}\nL:1/4\n{more}K:{key}\n"
    return read_abc((head + tune + "\n").encode(), **options)


def text(result, place=0):
    return format_notation(result.lines[place])


def told(result):
    return [problem.message for problem in result.problems]


def test_key_lengths_octaves_and_rests():
    result = read("B A/2 G/2 F2 | B, b c'2 | z4 |]", more="Q:1/4=72\n")
    assert text(result) == "Bb4 A4:0.5 G4 F4:2 | Bb3:1 Bb5 C6:2 | rest:4"
    assert (result.lines[0].fifths, result.tempo) == (-2, 72)
    assert told(result) == []


def test_sign_holds_to_the_bar_line_and_no_further():
    assert text(read("^F F =F F | F4")) == "F#4 F#4 F4 F4 | F4:4"


def test_natural_in_a_key_holds_too():
    assert text(read("=B B _B B | B4")) == "B4 B4 Bb4 Bb4 | Bb4:4"


def test_tied_note_keeps_its_sign_over_the_bar_line_and_the_next_does_not():
    assert text(read("A3 ^F- | F F F2")) == "A4:3 F#4:1~ | F#4 F4 F4:2"


def test_sign_reaches_other_octaves_as_abc_says_and_the_director_is_told():
    result = read("^F f F2")
    assert text(result) == "F#4 F#5 F#4:2"
    assert told(result) == [
        "Bar 1, beat 2: a note that printed music would read as F; by the rules of ABC it is F sharp. "
        "Write its sign to be sure."
    ]


def test_file_may_say_that_a_sign_stays_in_its_octave():
    result = read("^F f F2", more="%%propagate-accidentals octave\n")
    assert text(result) == "F#4 F5 F#4:2"
    assert told(result) == []


def test_file_may_say_that_a_sign_is_for_one_note_and_the_director_is_told():
    result = read("^F F G2", more="%%propagate-accidentals not\n")
    assert text(result) == "F#4 F4 G4:2"
    assert [problem.kind for problem in result.problems] == [ProblemKind.SPELLING]


def test_minor_and_modal_keys_give_their_signature():
    assert read("A4", key="Gm").lines[0].fifths == -2
    assert read("A4", key="D dorian").lines[0].fifths == 0
    assert read("A4", key="F#m").lines[0].fifths == 3


def test_broken_rhythm_is_dotted():
    assert text(read("A>B c2")) == "A4:1.5 Bb4:0.5 C5:2"


@pytest.mark.parametrize(
    ("tune", "kept", "message"),
    [
        (
            "(3ABc d2",
            "rest:2 D5",
            "Bar 1, beat 1: a tuplet (such as a triplet). A rest of 2 beats takes its place.",
        ),
        (
            "[Ace]2 A2",
            "Eb5:2 A4",
            "Bar 1, beat 1: a note under the highest of a chord (and 1 more after it) is left out.",
        ),
        ("{g}A4", "A4:4", "Bar 1, beat 1: a grace note is left out."),
        ("A4\nw: la", "A4:4", "Bar 1: a line of lyrics is left out."),
        ('"Am"A4', "A4:4", "Bar 1, beat 1: a chord symbol or text is left out."),
        ("!f!A4", "A4:4", "Bar 1, beat 1: a decoration is left out."),
        ("(A2 B2)", "A4:2 Bb4", "Bar 1, beat 1: a slur is left out."),
        (".A4", "A4:4", "Bar 1, beat 1: a playing mark is left out."),
        ("A4 :|", "A4:4", "Bar 1: a repeat or ending sign is left out."),
        ("A2 x2", "A4:2 rest", "Bar 1, beat 3: “x2” is not read here and is left out."),
        ("A4 | Z", "A4:4", "Bar 2, beat 1: “Z” is not read here and is left out."),
        (
            "A4 | [K:F] B4",
            "A4:4 | Bb4",
            "Bar 2, beat 1: the key changes. The line keeps its first key and the notes get signs.",
        ),
        (
            "A4 | B3 | A4",
            "A4:4 | Bb4:3 rest:1 | A4:4",
            "Bar 2: it has 3 beats, but 4/4 needs 4 beats. A rest of 1 beat is added at its end.",
        ),
    ],
)
def test_what_has_no_place_is_named(tune, kept, message):
    result = read(tune)
    assert message in told(result)
    assert text(result) == kept


def test_voices_become_lines():
    result = read("V:1\nA4 |]\nV:2\nF2 G2 |]")
    assert [format_notation(line) for line in result.lines] == ["A4:4", "F4:2 G4"]


def test_pickup_and_its_answer():
    assert text(read("F | B4 | A3 |]")) == "pickup F4 | Bb4:4 | A4:3"


def test_part_written_for_an_instrument_comes_in_at_concert_pitch():
    result = read("G4", key="G", written_for="alto_sax")
    assert (text(result), result.lines[0].fifths) == ("Bb3:4", -2)


def test_windows_lines_and_old_letters_are_read():
    data = "X:1\r\nT:Étude\r\nM:C\r\nL:1/4\r\nK:F\r\nB4 |]\r\n".encode("latin-1")
    assert format_notation(read_upload(data).lines[0]) == "Bb4:4"


@pytest.mark.parametrize(
    "data",
    [
        b"X:1\nno tune here\n",
        b"X:1\nK:C\n",
        b"X:1\nM:4/4\nL:1/4\nK:C\nz4 |]\n",
        b"X:1\nM:4/4\nL:1/4\nK:D exp ^f\nA4\n",
        b"X:1\nM:4/4\nL:1/4\nK:C\nA4 | [M:3/4] A3\n",
        b"X:1\nM:none\nL:1/4\nK:C\nA4\n",
        b"X:1\nM:4/4\nL:1/4\nK:C\nA4\nL:1/8\nA8\n",
        b"X:1\nM:4/4\nL:1/4\nK:C\nA4\n\nX:2\nM:4/4\nL:1/4\nK:C\nA4\n",
        b"X:1\nM:4/4\nL:1/4\nK:C\nA,,,,,,,,4\n",
        b"X:1\nM:4/4\nL:1/4\nK:C\n" + b"A " * 20_000,
        b"X:1\x00\nK:C\n",
    ],
)
def test_bad_tune_is_refused_in_one_sentence(data):
    with pytest.raises(MusicError) as raised:
        read_abc(data)
    assert len(raised.value.message) < 160
