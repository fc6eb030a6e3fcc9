"""Pictures of fingerings and of the keyboard: everything pressed is filled, everything is said in words."""

import re
from itertools import pairwise

import pytest
from lxml import etree

from exercises.music.diagrams import DiagramPlace, diagram_svg
from exercises.music.fingering_tables import FingeringSettings, rows_of, table_of
from exercises.music.fingerings import finger
from exercises.music.instruments import INSTRUMENTS
from exercises.music.key_pictures import PICTURES
from exercises.music.keyboard import keyboard_svg
from exercises.music.keywork import KEYWORK, WOODWIND_TABLE, key_ids
from exercises.music.notation import parse_notation
from exercises.music.part import make_part
from exercises.music.score import FOUR_FOUR
from tests.music.test_fingerings import given, written


def tree(svg):
    return etree.fromstring(svg.encode())


def pressed(svg):
    return tree(svg).xpath("count(//*[contains(@class, 'is-down')])")


def diagram_height(row, *, width):
    """Height of a picture that fills this width."""
    box = [float(value) for value in tree(diagram_svg(row, name="")).get("viewBox").split()]
    return width * box[3] / box[2]


def line(text):
    return parse_notation(text, label="A", metre=FOUR_FOUR, fifths=-2)


def all_rows(instrument_id):
    for settings in (
        FingeringSettings(),
        FingeringSettings(has_trigger=True, valves_4=True, double_horn=True),
    ):
        for rows in rows_of(instrument_id, settings=settings).values():
            yield from rows


@pytest.mark.parametrize("instrument_id", [one for one in INSTRUMENTS if rows_of(one)])
def test_each_pressed_key_is_filled_and_said(instrument_id):
    for row in all_rows(instrument_id):
        svg = diagram_svg(row, name="F sharp")
        assert pressed(svg) == len(row.keys or ())
        assert tree(svg).findtext("{*}title") == f"F sharp: {row.words}"
        assert tree(svg).get("aria-label") == f"F sharp: {row.words}"
        assert " style=" not in svg
        assert "<style" not in svg


@pytest.mark.parametrize("instrument_id", WOODWIND_TABLE)
def test_every_key_of_a_woodwind_is_in_its_picture(instrument_id):
    table = table_of(instrument_id)
    drawn_keys = [shape.key for shape in PICTURES[table].shapes]
    assert sorted(drawn_keys) == sorted(key_ids(table))
    assert len(drawn_keys) == len(KEYWORK[table])


@pytest.mark.parametrize("instrument_id", [one for one in INSTRUMENTS if rows_of(one)])
def test_nothing_lies_outside_the_picture(instrument_id):
    for row in all_rows(instrument_id):
        root = tree(diagram_svg(row, name="x", moves=row.keys or ()))
        left, top, width, height = map(float, root.get("viewBox").split())
        for rect in root.iter("{*}rect"):
            x, y, w, h = (float(rect.get(name)) for name in ("x", "y", "width", "height"))
            assert left <= x
            assert x + w <= left + width
            assert top <= y
            assert y + h <= top + height


def test_ring_stands_at_what_changes():
    third = given("E5 F5 F#5", "alto_sax")[2]
    root = tree(diagram_svg(third.row, name="F sharp", moves=third.moves))
    rings = root.xpath("//*[@class='fingers__move']")
    assert len(rings) == 1
    assert rings[0].getparent()[-1] is rings[0]  # drawn last, so that no key covers it
    valves = given("A4 Bb4 B4", "trumpet")
    assert diagram_svg(valves[2].row, name="B", moves=valves[2].moves).count("fingers__move") == 2
    slide = given("Bb2 C3", "trombone")
    assert diagram_svg(slide[1].row, name="C", moves=slide[1].moves).count("fingers__move") == 1


def test_pressed_valves_sit_low():
    svg = diagram_svg(given("A4", "trumpet")[0].row, name="A")
    caps = tree(svg).xpath("//*[local-name()='rect' and @width='40']")
    assert [float(cap.get("y")) for cap in caps] == [40, 40, 14]


def test_horn_shows_its_thumb_only_when_it_works():
    assert ">T<" not in diagram_svg(given("G4", "horn")[0].row, name="G")
    assert ">T<" in diagram_svg(given("A4", "horn", double_horn=True)[0].row, name="A")


def test_picture_can_stand_inside_another_drawing():
    row = given("E5", "alto_sax")[0].row
    svg = diagram_svg(row, name="E", place=DiagramPlace(middle=100, top=20, width=50))
    root = tree(svg)
    assert (float(root.get("x")), float(root.get("y")), float(root.get("width"))) == (75, 20, 50)
    assert float(root.get("height")) == pytest.approx(diagram_height(row, width=50), abs=0.01)


def test_words_are_escaped():
    svg = diagram_svg(given("E5", "alto_sax")[0].row, name='<b>"&')
    assert "&lt;b&gt;&quot;&amp;: Octave key" in svg


def test_sticks_and_bars_have_their_letter():
    bells = finger(written("C5 F#5", "bells"))
    assert pressed(diagram_svg(bells[0].row, name="C")) == 1
    assert ">L<" in diagram_svg(bells[1].row, name="F sharp")
    assert ">R<" in diagram_svg(finger(written("C5", "snare"))[0].row, name="")
    for one in (*bells, *finger(written("C5", "snare"))):
        if one is not None:
            assert diagram_height(one.row, width=60) > 0


def test_keyboard_shows_each_note_where_it_lies_and_its_half_steps():
    svg = keyboard_svg(make_part(line("Bb3:1 A G Ab | G F# F Gb"), "flute", octave=1), label="Flute, line A")
    assert tree(svg).get("aria-label") == (
        "Flute, line A. Keys from low to high: F, F♯ G♭, G, A♭, A, B♭. "
        "Half steps: F to F sharp; F sharp to G; G to A flat; A to B flat."
    )
    assert svg.count("keyboard__half") == 4
    names = re.findall(r">([A-G][♯♭]?)<", svg)
    assert sorted(names) == sorted(["F", "G♭", "F♯", "G", "A♭", "A", "B♭"])
    front = [float(x) for x in re.findall(r'keyboard__front[^>]* x="([-\d.]+)"', svg)]
    assert front == sorted(front)
    assert [round(b - a) for a, b in pairwise(front)] == [30] * (len(front) - 1)


def test_keyboard_without_half_steps_says_so_and_drums_have_none():
    svg = keyboard_svg(make_part(line("C4:1 D E:1 rest"), "flute", octave=1))
    assert "No half steps." in svg
    assert keyboard_svg(make_part(line("C4:4"), "snare")) == ""


def test_back_keys_stand_between_their_neighbours():
    svg = keyboard_svg(make_part(line("C4:1 C#4 D E"), "flute", octave=0))
    middles = {name: float(x) for x, name in re.findall(r'<text x="([-\d.]+)"[^>]*>([A-G][♯♭]?)<', svg)}
    assert middles["C"] < middles["C♯"] < middles["D"] < middles["E"]
