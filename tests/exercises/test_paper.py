"""Parts to take away: PDF, MusicXML, MIDI."""

import io

import pytest
from django.test import Client
from lxml import etree
from pypdf import PdfReader

from bandroom.people.instruments import Instrument
from bandroom.people.models import Section
from exercises.models import Exercise
from exercises.music.notation import parse_notation
from exercises.music.score import FOUR_FOUR, line_to_json
from exercises.printing.pdf import printed_part
from tests import factories
from tests.exercises.pages import text_of

pytestmark = pytest.mark.django_db
POINTS_AN_INCH = 72


def pdf(client: Client, exercise: Exercise, **asked: str) -> PdfReader:
    asked = {"who": "horn", "paper": "letter", "guide": "bare"} | asked
    answer = client.get(f"/exercises/{exercise.pk}/print/", asked)
    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/pdf"
    return PdfReader(io.BytesIO(answer.content))


def test_the_page_asks_what_to_print(client: Client, exercise: Exercise, section: Section) -> None:
    page = text_of(client.get(f"/exercises/{exercise.pk}/print/"))
    assert "Make the PDF" in page
    assert section.name in page


@pytest.mark.parametrize(("paper", "width", "height"), [("letter", 8.5, 11.0), ("a4", 8.27, 11.69)])
def test_a_part_is_one_page_of_the_chosen_paper(
    client: Client, exercise: Exercise, paper: str, width: float, height: float
) -> None:
    """Letter is 8½ by 11 inches (ANSI A), A4 210 by 297 mm (ISO 216)."""
    document = pdf(client, exercise, paper=paper)
    assert len(document.pages) == 1
    box = document.pages[0].mediabox
    assert float(box.width) / POINTS_AN_INCH == pytest.approx(width, abs=0.01)
    assert float(box.height) / POINTS_AN_INCH == pytest.approx(height, abs=0.01)
    text = document.pages[0].extract_text()
    assert "Stepping Stones" in text
    assert "Horn" in text
    assert "Watch" not in text


def test_the_guide_is_printed_with_names_and_reasons(client: Client, exercise: Exercise) -> None:
    text = pdf(client, exercise, who="alto_sax", guide="guide").pages[0].extract_text()
    assert "Key: 1 sharp: F" in text
    assert "Line A has no altered notes" in text


def test_a_busy_part_with_its_guide_fills_one_page(client: Client, exercise: Exercise) -> None:
    """Two lines of eight bars with seven altered letters, on the shorter paper, far over the staff."""
    for label, text in {
        "A": "Bb3:2 A3 | G3 Ab3 | G3 A3 | C4 F3 | G3 F#3 | F3 G3 | A3 C4 | Bb3:4",
        "B": "Bb3:1 A3 G3 A3 | G3 Ab3 A3 Ab3 | G3 F#3 G3 F3 | F3:2 F#3~ | F#3:1 F3 G3 rest | Eb3 E3 F3 Eb3 |"
        " D3 C4 A3 F3 | Bb3:4",
    }.items():
        line = parse_notation(text, label=label, metre=FOUR_FOUR, fifths=-2)
        exercise.lines.filter(label=label).update(score=line_to_json(line))
    assert len(pdf(client, exercise, who="bells", guide="guide").pages) == 1


def test_a_bare_part_has_a_line_to_write_on_under_each_system(exercise: Exercise) -> None:
    bare = printed_part(exercise=exercise, instrument=Instrument.HORN, guide=False)
    assert [line.svg.count('class="pencil"') for line in bare.lines] == [1, 1]
    assert 'class="names"' not in bare.lines[0].svg
    full = printed_part(exercise=exercise, instrument=Instrument.HORN, guide=True)
    assert [line.svg.count('class="pencil"') for line in full.lines] == [0, 0]


def test_letters_under_the_notes_have_their_size(client: Client, exercise: Exercise) -> None:
    """Each word inside a drawing is a form of its own in the file, three lines of its letters high: 15 and
    12 px letters, so nothing above 60."""
    page = pdf(client, exercise, who="alto_sax", guide="guide").pages[0]
    forms = [form.get_object() for form in page["/Resources"]["/XObject"].values()]
    heights = [float(form["/BBox"][3]) - float(form["/BBox"][1]) for form in forms]
    assert len(heights) == 12 + 16  # names of lines A and B, and their counts
    assert max(heights) < 60


def test_a_section_has_a_page_for_each_of_its_instruments(
    client: Client, exercise: Exercise, section: Section
) -> None:
    for instrument in ("alto_sax", "tenor_sax", "alto_sax"):
        factories.make_seat(section=section, instrument=instrument)
    document = pdf(client, exercise, who=f"section-{section.pk}")
    assert [page.extract_text().split("\n")[1] for page in document.pages] == ["Alto sax", "Tenor sax"]


def test_all_parts_are_those_of_the_band(client: Client, exercise: Exercise, section: Section) -> None:
    assert len(pdf(client, exercise, who="all").pages) == 17
    factories.make_seat(section=section, instrument="tuba")
    assert len(pdf(client, exercise, who="all").pages) == 1


@pytest.mark.parametrize("who", ["kazoo", "section-0", "section-x"])
def test_an_unknown_choice_is_said(client: Client, exercise: Exercise, who: str) -> None:
    answer = client.get(f"/exercises/{exercise.pk}/print/", {"who": who, "paper": "a4", "guide": "bare"})
    assert answer.status_code == 422


def test_an_empty_section_is_said(client: Client, exercise: Exercise, section: Section) -> None:
    asked = {"who": f"section-{section.pk}", "paper": "a4", "guide": "bare"}
    answer = client.get(f"/exercises/{exercise.pk}/print/", asked)
    assert answer.status_code == 422
    assert "Nobody sits in this section yet" in text_of(answer)


def test_another_bands_section_is_no_choice(client: Client, exercise: Exercise) -> None:
    other = factories.make_section(band=factories.make_band(name="Other"), name="Strangers")
    factories.make_seat(section=other)
    asked = {"who": f"section-{other.pk}", "paper": "a4", "guide": "bare"}
    assert client.get(f"/exercises/{exercise.pk}/print/", asked).status_code == 422
    assert "Strangers" not in text_of(client.get(f"/exercises/{exercise.pk}/print/"))


def test_html_in_a_title_is_text_on_paper(client: Client, exercise: Exercise) -> None:
    Exercise.objects.update(title="<img src='https://example.com/x.png'> & co")
    assert "<img src=" in pdf(client, exercise).pages[0].extract_text().replace("\n", " ")


def test_a_part_goes_out_as_musicxml_with_both_lines(client: Client, exercise: Exercise) -> None:
    answer = client.get(f"/exercises/{exercise.pk}/parts/alto_sax.musicxml")
    assert answer["Content-Disposition"] == 'attachment; filename="stepping-stones-alto_sax.musicxml"'
    root = etree.fromstring(answer.content)
    assert root.tag == "score-partwise"
    assert [step.text for step in root.iterfind(".//step")][:4] == ["G", "A", "B", "G"]
    assert len(root.findall(".//measure")) == 4


def test_the_score_has_every_instrument(client: Client, exercise: Exercise) -> None:
    root = etree.fromstring(client.get(f"/exercises/{exercise.pk}/score.musicxml").content)
    assert len(root.findall("part")) == 17


def test_midi_goes_out_for_a_part_and_the_score(client: Client, exercise: Exercise) -> None:
    """Format 1 with a track of tempo and one for each instrument (Standard MIDI Files 1.0)."""
    part = client.get(f"/exercises/{exercise.pk}/parts/horn.mid")
    assert part["Content-Type"] == "audio/midi"
    assert part.content[:14] == b"MThd\x00\x00\x00\x06\x00\x01\x00\x02\x01\xe0"
    score = client.get(f"/exercises/{exercise.pk}/score.mid").content
    assert int.from_bytes(score[10:12]) == 18


def test_a_file_name_is_plain(client: Client, exercise: Exercise) -> None:
    Exercise.objects.update(title='../"x"\r\n🎷')
    answer = client.get(f"/exercises/{exercise.pk}/parts/horn.mid")
    assert answer["Content-Disposition"] == 'attachment; filename="x-horn.mid"'
    Exercise.objects.update(title="🎷")
    answer = client.get(f"/exercises/{exercise.pk}/parts/horn.mid")
    assert answer["Content-Disposition"] == f'attachment; filename="exercise-{exercise.pk}-horn.mid"'


def test_a_damaged_line_is_said(client: Client, exercise: Exercise) -> None:
    exercise.lines.update(score={})
    answer = client.get(f"/exercises/{exercise.pk}/score.mid", follow=True)
    assert "This stored line is damaged" in text_of(answer)
    asked = {"who": "horn", "paper": "a4", "guide": "bare"}
    printed = client.get(f"/exercises/{exercise.pk}/print/", asked)
    assert printed.status_code == 422
    assert "This stored line is damaged" in text_of(printed)
