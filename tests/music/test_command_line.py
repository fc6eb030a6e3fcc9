"""The engine from a command line."""

import pytest

from exercises.music.__main__ import main
from tests.music.page_reader import read_midi
from tests.music.test_musicxml_in import file, note

NOTES = "Bb3:1 A G# A | Bb3:4"


def test_typed_line_comes_out_as_a_part_with_reasons(capsys, tmp_path):
    drawing = tmp_path / "part.svg"
    assert main(["clarinet", "--notes", NOTES, "--key", "-2", "--svg", str(drawing)]) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[0] == "Clarinet in B-flat, line A: no sharps or flats, comfortable"
    assert said[1] == "C4 B3 A#3 B3 | C4:4"
    assert said[4] == (
        "  bar 1, beat 3: A♯3. The sharp in front of it makes it A sharp. "
        "[Thumb, left 1 2 3, right 1; wants a director's yes]"
    )
    assert read_midi(drawing.read_text(encoding="utf-8")) == [60, 59, 58, 59, 60]


def test_file_comes_in_and_what_is_left_out_is_said(capsys, tmp_path):
    path = tmp_path / "line.musicxml"
    path.write_bytes(file(note("G", duration=8, more="<lyric><text>la</text></lyric>")))
    assert main(["horn", str(path), "--written-for", "alto_sax"]) == 0
    said = capsys.readouterr()
    assert said.err == "Bar 1, beat 1: a syllable of lyrics is left out.\n"
    assert "F4:4" in said.out


@pytest.mark.parametrize("arguments", [["horn", "--notes", "H4"], ["horn", "nowhere.musicxml"]])
def test_music_that_cannot_be_used_is_said_in_a_sentence(arguments, capsys):
    assert main(arguments) == 1
    assert capsys.readouterr().err.count("\n") == 1


@pytest.mark.parametrize(
    "arguments", [["horn"], ["horn", "a.xml", "--notes", "C4:4"], ["kazoo", "--notes", "C4"]]
)
def test_wrong_use_is_refused(arguments):
    with pytest.raises(SystemExit):
        main(arguments)
