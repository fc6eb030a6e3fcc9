"""Parts under each other: one set of bar lines, each part still its own."""

import re

import pytest

from exercises.music.aligned import engrave_aligned
from exercises.music.engraving import engrave
from exercises.music.errors import MusicError
from exercises.music.instruments import INSTRUMENTS
from exercises.music.notation import parse_notation
from exercises.music.part import Part, make_part
from exercises.music.score import FOUR_FOUR

TEXT = "Bb3:2 A | G Ab~ | Ab:1 G A:2 | C4 F3 | G F# | F rest | A C4 | Bb3:4"


def parts_of(text: str = TEXT) -> list[Part]:
    line = parse_notation(text, label="A", metre=FOUR_FOUR, fifths=-2)
    return [make_part(line, instrument) for instrument in INSTRUMENTS]


def test_every_part_has_the_same_bar_lines() -> None:
    engravings = engrave_aligned(parts_of(), prefix="w", width_px=780, bars_per_system=8)
    edges = {tuple((bar.left, bar.right) for bar in engraving.bars) for engraving in engravings}
    assert len(edges) == 1
    assert len(engravings) == len(INSTRUMENTS) == 17


def test_notes_of_one_beat_stand_under_each_other() -> None:
    engravings = engrave_aligned(parts_of(), prefix="w", width_px=780, bars_per_system=8)
    for places in zip(*(engraving.notes for engraving in engravings), strict=True):
        assert max(place.x for place in places) - min(place.x for place in places) < 1.0


def test_a_part_is_drawn_with_its_own_signs_and_nothing_of_its_neighbours() -> None:
    """Each row has as many heads, signs, ties and bar lines as the same part engraved alone."""

    def drawn(svg: str) -> dict[str, int]:
        body = svg.partition("</defs>")[2]
        counts = {code: body.count(f'-{code}"') for code in ("E0A2", "E0A3", "E0A4", "E260", "E261", "E262")}
        paths = {kind: len(re.findall(f'class="{kind}"', body)) for kind in ("tie", "barLine", "staff")}
        return counts | paths

    parts = parts_of()
    rows = engrave_aligned(parts, prefix="w", width_px=780, bars_per_system=8)
    for part, row in zip(parts, rows, strict=True):
        alone = engrave(part, prefix="p", width_px=780, bars_per_system=8)
        assert drawn(row.svg) == drawn(alone.svg), part.instrument_id
        assert [place.name for place in row.notes] == [place.name for place in alone.notes]


def test_ids_of_all_rows_differ() -> None:
    rows = engrave_aligned(parts_of(), prefix="w", width_px=780, bars_per_system=8)
    ids = [found for row in rows for found in re.findall(r' id="([^"]+)"', row.svg)]
    assert len(ids) == len(set(ids))
    assert all(re.match(r"w\d+-", found) for found in ids)


def test_a_long_line_takes_several_systems_with_the_same_breaks() -> None:
    rows = engrave_aligned(parts_of(f"{TEXT} | {TEXT}"), prefix="w", width_px=780, bars_per_system=8)
    assert {len(row.systems) for row in rows} == {2}
    assert len({tuple((bar.left, bar.system) for bar in row.bars) for row in rows}) == 1


def test_parts_of_different_lines_are_refused() -> None:
    other = make_part(parse_notation("Bb3:4", label="A", metre=FOUR_FOUR, fifths=-2), "flute")
    with pytest.raises(MusicError, match="one line"):
        engrave_aligned([parts_of()[0], other], prefix="w", width_px=780, bars_per_system=8)


def test_no_part_no_drawing() -> None:
    assert engrave_aligned([], prefix="w", width_px=780, bars_per_system=8) == ()
