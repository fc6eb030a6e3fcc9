"""Whatever comes in, a reader gives lines or one plain sentence, and soon."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exercises.music.abc_in import read_abc
from exercises.music.errors import MusicError
from exercises.music.midi_in import read_midi
from exercises.music.musicxml_in import read_musicxml
from exercises.music.musicxml_out import score_to_musicxml
from exercises.music.notation import parse_notation
from exercises.music.part import make_part
from exercises.music.score import FOUR_FOUR
from exercises.music.uploads import read_upload
from tests.music.midi_files import part_to_midi
from tests.music.test_musicxml_in import file, note, packed

PART = make_part(
    parse_notation("Bb3:1 A G# A | F:2 F#~ | F#:1 F G rest", label="A", metre=FOUR_FOUR, fifths=-2),
    "alto_sax",
)
MUSICXML = score_to_musicxml([[PART]], title="x", tempos=[72]).encode()
MIDI = part_to_midi(PART, tempo=72)
ABC = (
    b"X:1\nT:x\nM:4/4\nL:1/4\nQ:1/4=72\nK:Bb\n"
    b'B A ^G A | "F"F2 !f!^F2- | (3FGA [Bd]2 {c}B |\nw: la la\nz4 |]\n'
)


@st.composite
def damaged(draw, data):
    """A good file with bytes cut out, repeated, or changed."""
    kept = bytearray(data)
    for _ in range(draw(st.integers(1, 6))):
        at = draw(st.integers(0, max(0, len(kept) - 1)))
        match draw(st.sampled_from(("change", "cut", "repeat"))):
            case "change":
                kept[at : at + 1] = bytes([draw(st.integers(0, 255))])
            case "cut":
                del kept[at : at + draw(st.integers(1, 40))]
            case "repeat":
                kept[at:at] = kept[at : at + draw(st.integers(1, 40))]
    return bytes(kept)


def lines_or_a_sentence(read, data):
    said = ""
    try:
        lines = read(data).lines
    except MusicError as error:
        lines, said = (), error.message
    assert bool(lines) is not bool(said)
    assert len(said) < 200
    for line in lines:
        line.validate()


@given(damaged(MUSICXML))
@settings(max_examples=80)
def test_damaged_musicxml(data):
    lines_or_a_sentence(read_musicxml, data)


@given(damaged(packed(MUSICXML)))
@settings(max_examples=80)
def test_damaged_compressed_musicxml(data):
    lines_or_a_sentence(read_musicxml, data)


@given(damaged(MIDI))
@settings(max_examples=80)
def test_damaged_midi(data):
    lines_or_a_sentence(read_midi, data)


@given(damaged(ABC))
@settings(max_examples=80)
def test_damaged_abc(data):
    lines_or_a_sentence(read_abc, data)


@given(st.binary(max_size=200))
def test_any_bytes(data):
    lines_or_a_sentence(read_upload, data)


@pytest.mark.parametrize(
    "data",
    [
        b"X:1\nM:4/4\nL:1/4\nK:C\n" + b"A" * 15_000,
        b"X:1\nM:4/4\nL:1/4\nK:C\n" + b"(3ABC" * 3_000,
        b"X:1\nM:4/4\nL:1/4\nK:C\n" + b"A|" * 7_000,
        file(*[note(duration=8)] * 66),
        file(note(duration=8) * 6_000),
        packed(file(*[note(duration=8)] * 20_000)),
    ],
)
def test_endless_music_is_refused_before_it_is_read_to_its_end(data):
    with pytest.raises(MusicError, match="too long"):
        read_upload(data)


def test_score_of_a_hundred_parts_is_refused():
    one = file(note(duration=8)).decode()
    part = one[one.index('<part id="P1">') : one.index("</score-partwise>")]
    with pytest.raises(MusicError, match="too many parts"):
        read_musicxml(one.replace(part, part * 100).encode())
