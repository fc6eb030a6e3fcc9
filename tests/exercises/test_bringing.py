"""Files brought in: sorted into lines, or refused in one sentence with typed notes kept."""

import io
import re
import zipfile
from collections.abc import Callable

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils.html import escape

from exercises.models import Exercise
from exercises.music.midi_out import score_to_midi
from exercises.music.musicxml_out import score_to_musicxml
from exercises.music.notation import parse_notation
from exercises.music.part import make_part
from exercises.music.score import FOUR_FOUR, Line
from tests.exercises.pages import LINE_B, text_of, written

pytestmark = pytest.mark.django_db
FILE, SORT = "/exercises/new/file/", "/exercises/new/lines/"
CONTAINER = (
    '<container><rootfiles><rootfile full-path="score.xml"/></rootfiles></container>'  # MusicXML 4.0, mxl
)
ABC = b"X:1\nT:Two bars\nM:4/4\nL:1/4\nK:Bb\nB,2 C2 | D2 B,2 |]\n"


def line(text: str, label: str = "A") -> Line:
    return parse_notation(text, label=label, metre=FOUR_FOUR, fifths=-2)


def musicxml(*texts: str, instrument: str = "flute", together: bool = True) -> bytes:
    """A score: all texts one after another in one part, or each in a part of its own."""
    parts = [
        make_part(line(text, label), instrument, octave=0)
        for label, text in zip("ABCDEFGH", texts, strict=False)
    ]
    groups = [parts] if together else [[part] for part in parts]
    tempos = [72] * len(parts) if together else [72]
    score = score_to_musicxml(groups, title="From a file", tempos=tempos)
    return re.sub("<direction .*?</direction>", "", score).encode()  # without our headings


def mxl(score: bytes) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("META-INF/container.xml", CONTAINER)
        archive.writestr("score.xml", score)
    return packed.getvalue()


def bring(client: Client, data: bytes, name: str = "lines.musicxml", **changed: str) -> object:
    upload = SimpleUploadedFile(name, data)
    return client.post(FILE, written(**changed) | {"file": upload, "file_written_for": "concert"} | changed)


def hidden(page: str) -> dict[str, str]:
    """The boxes of a form as they stand in the page."""
    from lxml import html  # noqa: PLC0415 - for this test alone

    form = html.fromstring(page).forms[-1]
    return {name: value for name, value in form.fields.items() if value is not None}


def save(client: Client, page: str) -> Exercise:
    """Send the writing page as it came."""
    answer = client.post("/exercises/new/", hidden(page) | {"do": "save"})
    assert answer.status_code == 302, text_of(answer)
    return Exercise.objects.get()


def notes(exercise: Exercise) -> dict[str, list[list[str]]]:
    return {
        row.label: [[note["pitch"] for note in bar] for bar in row.score["bars"]]
        for row in exercise.lines.all()
    }


def test_two_parts_become_line_a_and_line_b(client: Client) -> None:
    answer = bring(client, musicxml("Bb3:2 C4 | D4 Bb3", LINE_B, together=False), title="")
    page = text_of(answer)
    assert answer.status_code == 200
    assert "Part A" in page
    assert "Part B" in page
    assert "cannot be kept" not in page
    sorted_page = text_of(client.post(SORT, hidden(page)))
    made = save(client, sorted_page)
    assert notes(made) == {
        "A": [["Bb3", "C4"], ["D4", "Bb3"]],
        "B": [["Bb3", "C4", "D4", "Bb3"], ["Bb3", "C4", "D4", "Bb3"]],
    }
    assert (made.source, made.title) == ("musicxml", "lines")


def test_another_file_can_be_chosen_and_typed_notes_stay(client: Client) -> None:
    """Also after a sorting that was refused."""
    page = text_of(
        bring(client, musicxml("Bb3:4", "C4:4", together=False), notes_A="D4:4", title="Mine & more")
    )
    refused = client.post(SORT, hidden(page) | {"use_0": "A", "use_1": "A"})
    assert refused.status_code == 422
    for sorting in (page, text_of(refused)):
        before = hidden(text_of(client.post(FILE, hidden(sorting) | {"do": "back"})))
        # HTML drops the newline that stands first in a text box
        assert (before["title"], before["notes_A"].lstrip("\n"), before["notes_B"].lstrip("\n")) == (
            "Mine & more",
            "D4:4",
            LINE_B,
        )


def test_the_director_says_which_part_is_which(client: Client) -> None:
    page = text_of(bring(client, musicxml("Bb3:4", "C4:4", together=False)))
    sorted_page = text_of(client.post(SORT, hidden(page) | {"use_0": "B", "use_1": "A"}))
    assert notes(save(client, sorted_page)) == {"A": [["C4"]], "B": [["Bb3"]]}


def test_one_part_is_split_where_line_b_begins(client: Client) -> None:
    page = text_of(bring(client, musicxml("Bb3:2 C4 | D4 Bb3 | Bb3:1 C4 D4 Bb3 | F3:4")))
    assert "at bar 3" in page
    sorted_page = text_of(client.post(SORT, hidden(page) | {"split_0": "2"}))
    assert notes(save(client, sorted_page)) == {
        "A": [["Bb3", "C4"], ["D4", "Bb3"]],
        "B": [["Bb3", "C4", "D4", "Bb3"], ["F3"]],
    }


def test_a_tie_is_not_cut_in_two(client: Client) -> None:
    page = text_of(bring(client, musicxml("Bb3:2 C4~ | C4 Bb3")))
    answer = client.post(SORT, hidden(page) | {"split_0": "1"})
    assert answer.status_code == 422
    assert "a tie must lead to the same note" in text_of(answer)


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"use_0": "out", "use_1": "out"}, "Choose which of them is line A."),
        ({"use_0": "B", "use_1": "out"}, "Choose which of them is line A."),
        ({"use_0": "A", "use_1": "A"}, "Two of them are called line A: choose another letter for one."),
        ({"metre_1": "2/2"}, "The lines have different metres: make an exercise of each."),
        ({"fifths_1": "0"}, "The lines are in different keys: make an exercise of each."),
    ],
)
def test_a_choice_that_makes_no_exercise_is_said(
    client: Client, changed: dict[str, str], sentence: str
) -> None:
    page = text_of(bring(client, musicxml("Bb3:4", "C4:4", together=False)))
    answer = client.post(SORT, hidden(page) | changed)
    assert answer.status_code == 422
    assert sentence in text_of(answer)


def test_lines_that_were_tampered_with_are_read_again(client: Client) -> None:
    page = text_of(bring(client, musicxml("Bb3:4")))
    answer = client.post(SORT, hidden(page) | {"text_0": "<b>not notes</b>"})
    assert answer.status_code == 422
    assert "<b>not notes" not in text_of(answer)


def test_a_part_written_for_alto_sax_comes_to_concert_pitch_and_keeps_its_octave(client: Client) -> None:
    """The file holds written G4, A4; an alto sax sounds a major sixth lower: B flat 3, C4."""
    written_g = parse_notation("G4:2 A", label="A", metre=FOUR_FOUR, fifths=1)
    data = score_to_musicxml([[make_part(written_g, "flute", octave=0)]], title="x", tempos=[72]).encode()
    page = text_of(bring(client, data, file_written_for="alto_sax"))
    made = save(client, text_of(client.post(SORT, hidden(page))))
    assert notes(made) == {"A": [["Bb3", "C4"]]}
    assert (made.concert_fifths, made.part_choices.get().octave) == (-2, 0)


def test_compressed_musicxml_midi_and_abc_are_read(client: Client) -> None:
    expected = {"A": [["Bb3", "C4"], ["D4", "Bb3"]]}
    files: dict[str, tuple[bytes, str]] = {
        "a.mxl": (mxl(musicxml("Bb3:2 C4 | D4 Bb3")), "musicxml"),
        "a.mid": (
            score_to_midi([[make_part(line("Bb3:2 C4 | D4 Bb3"), "flute", octave=0)]], tempos=[72]),
            "midi",
        ),
        "a.abc": (ABC, "abc"),
    }
    for name, (data, source) in files.items():
        answer = bring(client, data, name)
        assert answer.status_code == 200, (name, text_of(answer))
        made = save(client, text_of(client.post(SORT, hidden(text_of(answer)))))
        assert (notes(made), made.source) == (expected, source), name
        made.delete()


def test_what_cannot_be_kept_is_listed_with_its_place(client: Client) -> None:
    chord = musicxml("Bb3:2 C4 | D4 Bb3").replace(
        b"<note><pitch><step>D</step>",
        b"<note><pitch><step>D</step><octave>4</octave></pitch><duration>16</duration><type>half</type></note>"
        b"<note><chord/><pitch><step>F</step>",
        1,
    )
    page = text_of(bring(client, chord))
    assert "This cannot be kept" in page
    assert "Bar 2, beat 1" in page
    assert "Go on like this" in page


def zip_bomb() -> bytes:
    """A megabyte of zeros, a hundred times over, in a file of a few kilobytes."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("META-INF/container.xml", CONTAINER)
        archive.writestr("score.xml", b"0" * 100_000_000)
    return packed.getvalue()


def entity_bomb() -> bytes:
    """The billion laughs."""
    levels = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 10))
    return (
        f'<?xml version="1.0"?><!DOCTYPE score-partwise [<!ENTITY l0 "lol">{levels}]>'
        "<score-partwise>&l9;</score-partwise>"
    ).encode()


def outside_entity() -> bytes:
    return (
        b'<?xml version="1.0"?><!DOCTYPE score-partwise [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
        b"<score-partwise><work><work-title>&x;</work-title></work></score-partwise>"
    )


@pytest.mark.parametrize(
    ("name", "make"),
    [
        ("empty.musicxml", lambda: b""),
        ("notes.mxl", lambda: b"These are the notes I meant to send."),
        ("bomb.mxl", zip_bomb),
        ("huge.xml", lambda: b"<" + b"x" * 50_000_000),
        ("laughs.xml", entity_bomb),
        ("outside.xml", outside_entity),
        ("cut.mxl", lambda: mxl(musicxml("Bb3:4"))[:200]),
        ("cut.xml", lambda: musicxml("Bb3:4")[:400]),
        ("cut.mid", lambda: b"MThd\x00\x00\x00\x06\x00\x01"),
        ("page.xml", lambda: b"<html><body>Sign in to the school network</body></html>"),
        ("picture.png", lambda: b"\x89PNG\r\n\x1a\n" + bytes(200)),
        ("a" * 250 + "/../🎷.xml", lambda: b"nothing"),
    ],
)
def test_a_bad_file_is_refused_in_a_sentence_and_typed_notes_stay(
    client: Client, name: str, make: Callable[[], bytes]
) -> None:
    answer = bring(client, make(), name, title="Kept title", notes_A="Bb3:2 C4 | D4:4", caption_B="kept too")
    page = text_of(answer)
    assert answer.status_code == 422
    sentence = page.partition('id="file-problem">')[2].partition("</p>")[0]
    assert sentence.endswith(".")
    assert 20 < len(sentence) < 200, sentence
    assert "root:" not in page
    for kept in ("Kept title", "Bb3:2 C4 | D4:4", "kept too"):
        assert escape(kept) in page
    assert not Exercise.objects.exists()


def test_no_file_is_said(client: Client) -> None:
    answer = client.post(FILE, written())
    assert answer.status_code == 422
    assert "Choose a file first." in text_of(answer)


def test_the_name_of_a_file_is_escaped(client: Client) -> None:
    page = text_of(bring(client, musicxml("Bb3:4"), "<img src=x>.musicxml", title=""))
    assert "<img src=x" not in page
    assert "&lt;img src=x&gt;" in page


def test_both_want_a_post(client: Client) -> None:
    assert client.get(FILE).status_code == 405
    assert client.get(SORT).status_code == 405
