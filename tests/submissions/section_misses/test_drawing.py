"""Roots as a drawing: one tick a player under their note, three forms, brackets over the shared places.

Read back with lxml, which had no part in writing it.
"""

from fractions import Fraction
from itertools import pairwise

import pytest
from lxml import etree

from exercises.music.engraving import Engraving, engrave
from exercises.music.part import make_part
from submissions.section_misses.drawing import AIR, NUMBER, above, depth, overlay
from submissions.section_misses.misses import SectionMisses
from submissions.section_misses.places import MissedPlace, places_of
from tests.submissions.section_misses.sections import NOT_HEARD, other, section, unsure, written

LINE = written("C5:1 D5 E5 F5 | G5:2 A5~ | A5:1 G5 F5 rest | C5:4 |")


@pytest.fixture(scope="module")
def wide() -> Engraving:
    return engrave(make_part(LINE, "flute", octave=0), prefix="w", width_px=1340, bars_per_system=8)


@pytest.fixture(scope="module")
def narrow() -> Engraving:
    part = make_part(LINE, "flute", octave=0)
    return engrave(part, prefix="n", width_px=342, bars_per_system=2, system_gap_px=104.0)


def drawn(engraving: Engraving, players: list[dict[int, dict[str, object]]]):
    notes, counted = section(LINE, players)
    places = places_of(counted, line=LINE, notes=notes)
    return (
        etree.fromstring(f"<svg>{overlay(engraving, counted=counted, places=places)}</svg>"),
        counted,
        places,
    )


def ticks(drawing: etree._Element) -> list[tuple[str, float, float]]:
    """Kind, middle and top of every tick, in the order drawn."""
    kinds = {
        "roots__tick": "same",
        "roots__tick roots__tick--other": "other",
        "roots__tick roots__tick--other roots__tick--unsure": "unsure",
    }
    return [
        (
            kinds[box.get("class")],
            round(float(box.get("x")) + float(box.get("width")) / 2, 1),
            float(box.get("y")),
        )
        for box in drawing.iter("rect")
    ]


def test_each_player_is_one_tick_under_the_note_filled_open_or_dashed(wide: Engraving):
    players = [{2: other(1)}] * 3 + [{2: other(-2)}, {2: NOT_HEARD}, {2: unsure()}, {}]
    drawing, _, _ = drawn(wide, players)
    found = ticks(drawing)
    assert [kind for kind, _, _ in found] == ["same"] * 3 + ["other"] * 2 + ["unsure"]
    assert [x for _, x, _ in found] == [pytest.approx(wide.notes[2].x, abs=0.1)] * 6
    tops = [y for _, _, y in found]
    assert tops == sorted(tops)
    assert tops[0] == pytest.approx(wide.systems[0].ink_bottom + AIR, abs=0.1)


def test_the_number_under_a_root_is_how_many_missed_it(wide: Engraving):
    drawing, _, _ = drawn(wide, [{2: other(1)}] * 3 + [{2: unsure(), 4: NOT_HEARD}])
    numbers = [
        (text.text, text.get("class")) for text in drawing.iter("text") if text.get("class") != "bracket__say"
    ]
    assert numbers == [("3", None), ("1", "roots__few")]


def test_only_unsure_players_are_no_number(wide: Engraving):
    drawing, _, _ = drawn(wide, [{2: unsure()}] * 4)
    assert len(ticks(drawing)) == 4
    assert [text.text for text in drawing.iter("text")] == []


def test_brackets_with_their_rank_stand_over_the_shared_places(wide: Engraving):
    drawing, _, _ = drawn(wide, [{2: NOT_HEARD, 4: NOT_HEARD}, {2: NOT_HEARD, 4: NOT_HEARD}, {4: NOT_HEARD}])
    said = [
        (text.text, float(text.get("x")))
        for text in drawing.iter("text")
        if text.get("class") == "bracket__say"
    ]
    assert said == [
        ("2", pytest.approx(wide.notes[2].x, abs=0.1)),
        ("1", pytest.approx(wide.notes[4].x, abs=0.1)),
    ]
    assert len([path for path in drawing.iter("path") if path.get("class") == "bracket"]) == 2


def test_ticks_of_a_held_note_stand_under_its_start(narrow: Engraving):
    assert narrow.notes[5].beats == Fraction(2)
    drawing, _, _ = drawn(narrow, [{5: NOT_HEARD}] * 2)
    assert [x for _, x, _ in ticks(drawing)] == [pytest.approx(narrow.notes[5].x, abs=0.1)] * 2


@pytest.mark.parametrize("players", [2, 5, 17, 30])
def test_on_a_phone_roots_never_reach_the_next_systems_bracket(narrow: Engraving, players: int):
    slips = dict.fromkeys(range(9), NOT_HEARD)
    drawing, _, _ = drawn(narrow, [slips] * players)
    first, second = narrow.systems[0], narrow.systems[1]
    lowest = max(
        float(mark.get("y"))
        for mark in drawing.iter("text")
        if mark.get("class") != "bracket__say" and float(mark.get("y")) < second.ink_top
    )
    assert first.ink_bottom < lowest <= second.ink_top - above() + NUMBER


def test_no_two_roots_of_a_system_overlap(narrow: Engraving):
    slips = dict.fromkeys(range(9), NOT_HEARD)
    drawing, _, _ = drawn(narrow, [slips] * 3)
    boxes = [(float(b.get("x")), float(b.get("width")), float(b.get("y"))) for b in drawing.iter("rect")]
    for top in {y for _, _, y in boxes}:
        row = sorted((x, x + width) for x, width, y in boxes if y == top)
        assert all(a[1] < b[0] for a, b in pairwise(row))


def test_room_is_asked_for_the_tallest_root_of_the_last_system(wide: Engraving):
    assert room(wide, [{}]) == 0
    assert room(wide, [{2: NOT_HEARD}] * 2) < room(wide, [{2: NOT_HEARD}] * 8)


def test_nothing_is_styled_inline_or_drawn_on_a_note_head(wide: Engraving):
    drawing, _, _ = drawn(wide, [{2: other(1), 4: NOT_HEARD}] * 3)
    for mark in drawing.iter():
        assert mark.get("style") is None
    system = wide.systems[0]
    for _, _, top in ticks(drawing):
        assert top > system.ink_bottom


def room(engraving: Engraving, players: list[dict[int, dict[str, object]]]) -> float:
    counted: SectionMisses
    _, counted = section(LINE, players)
    return depth(engraving, counted)


def test_a_place_found_everywhere_is_bracketed_everywhere(wide: Engraving):
    """G and A are played flat in every place by everybody: one rank for both Gs."""
    drawing, _, places = drawn(wide, [{4: other(-1), 6: other(-1)}] * 3)
    (place,) = places
    assert isinstance(place, MissedPlace)
    assert place.notes == (4, 6)
    assert [text.text for text in drawing.iter("text") if text.get("class") == "bracket__say"] == ["1", "1"]
