"""Threads: where the cause of each note stands on the engraved page."""

import json
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exercises.drawing.reading_aids import ABOVE_HEAD, TIE_LEAD, AidStart, aid_starts, reading_aids
from exercises.drawing.spots import note_spots
from exercises.music.engraving import Engraving, engrave, line_svg
from exercises.music.instruments import INSTRUMENTS
from exercises.music.notation import parse_notation
from exercises.music.part import Part, make_part
from exercises.music.reading import Reason, read_part
from exercises.music.score import FOUR_FOUR
from tests.music.test_notation import lines

PITCHED = [player.id for player in INSTRUMENTS.values() if player.pitched]


def engraved(text: str, *, bars: int = 4) -> tuple[Engraving, Part]:
    """A flute part in two flats: written as it is typed."""
    line = parse_notation(text, label="A", metre=FOUR_FOUR, fifths=-2)
    part = make_part(line, "flute", octave=0)
    return engrave(part, prefix="t", width_px=700, bars_per_system=bars), part


def found(text: str, index: int, *, bars: int = 4) -> tuple[Engraving, tuple[AidStart, ...]]:
    engraving, part = engraved(text, bars=bars)
    return engraving, aid_starts(engraving, part, read_part(part)[index])


@pytest.mark.parametrize(("index", "sign"), [(0, 0), (3, 1)])
def test_a_note_of_the_key_hangs_on_its_own_sign_of_the_signature(index: int, sign: int) -> None:
    """B flat is printed before E flat; the sign on the lower line stands further down the page."""
    engraving, cause = found("Bb4:1 C5 D5 Eb5", index)
    (system,) = engraving.systems
    assert cause == (AidStart(*system.key[sign]),)
    assert system.left < system.key[0][0] < system.key[1][0] < engraving.notes[0].x
    assert system.key[1][1] < system.key[0][1]


def test_a_carried_sign_is_the_one_in_front_of_the_earlier_note() -> None:
    engraving, cause = found("F4:1 F#4 G4 F#4", 3)
    first, second, _, last = engraving.notes
    assert cause == (AidStart(*second.sign),)
    assert first.x < second.sign[0] < second.x < last.x
    assert second.sign[1] < second.y
    assert (first.sign, last.sign) == (None, None)


def test_a_note_with_a_sign_hangs_on_that_sign() -> None:
    engraving, cause = found("F4:1 F#4 G4 F#4", 1)
    assert cause == (AidStart(*engraving.notes[1].sign),)


def test_a_tie_comes_from_the_note_before_and_over_a_new_system_from_its_edge() -> None:
    text = "G4:2 F#4~ | F#4:2 F4"
    engraving, cause = found(text, 2)
    assert cause == (AidStart(engraving.notes[1].x, engraving.notes[1].y - ABOVE_HEAD),)
    engraving, cause = found(text, 2, bars=1)
    held = engraving.notes[2]
    assert held.system == 1
    assert cause == (AidStart(held.x - TIE_LEAD, held.y - ABOVE_HEAD),)


def test_a_sign_that_ended_hangs_on_the_bar_line_that_ended_it() -> None:
    engraving, cause = found("F#4:4 | F4:4", 1)
    assert cause == (AidStart(engraving.bars[1].left, engraving.systems[0].top),)
    engraving, cause = found("B4:4 | Bb4:4", 1)
    system = engraving.systems[0]
    assert cause == (AidStart(*system.key[0]), AidStart(engraving.bars[1].left, system.top))


def test_a_sign_on_another_octave_does_not_reach() -> None:
    engraving, cause = found("F#4:2 F5", 1)
    assert cause == (AidStart(*engraving.notes[0].sign, reaches=False),)
    drawn = reading_aids(*engraved("F#4:2 F5"), read_part(engraved("F#4:2 F5")[1]))
    assert drawn.count('class="thread thread--not"') == 1
    assert drawn.count("<polygon") == 1  # the point of the F sharp's own thread


def test_a_plain_note_and_a_rest_hang_on_nothing() -> None:
    engraving, part = engraved("C5:2 rest")
    assert 'data-thread="' not in reading_aids(engraving, part, read_part(part))
    assert re.findall(r'aria-label="([^"]+)"', note_spots(engraving, part)) == ["Bar 1, beat 1: C"]


def test_a_stored_drawing_keeps_the_places_of_its_signs() -> None:
    engraving, _ = engraved("F4:1 F#4 G4 F4")
    again = Engraving.from_json(json.loads(json.dumps(engraving.to_json())))
    assert again == engraving
    assert "thread" not in line_svg(again, label="x")


@given(lines(), st.sampled_from(PITCHED))
@settings(max_examples=25)
def test_every_note_that_is_not_plain_hangs_on_something_before_it(line: object, instrument: str) -> None:
    part = make_part(line, instrument)
    engraving = engrave(part, prefix="t", width_px=600, bars_per_system=2)
    for courtesy in (True, False):
        for reading in read_part(part, courtesy=courtesy):
            cause = aid_starts(engraving, part, reading)
            assert bool(cause) is (reading.reason not in (Reason.PLAIN, Reason.REST)), reading
            assert all(each.x < engraving.notes[reading.ref.index].x for each in cause)
