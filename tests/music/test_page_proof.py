"""Random parts, engraved and read back from the page: the last word on signs.

Every pitched instrument, concert keys of five flats to five sharps, ties over the bar line, carried signs,
other octaves, rests, respellings. The page is read by glyph and staff position alone (page_reader.py): it
must give the intended pitches. The MusicXML must be valid against the 4.0 schema of W3C, the MIDI that
verovio makes of it must be the sounding pitches, and a page with a required sign taken away must read wrong.

BANDROOM_PAGE_PARTS sets the number of parts (600 before a release).
"""

import base64
import os
import random
import re
from fractions import Fraction
from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from exercises.music.engraved_page import read_page
from exercises.music.engraver import draw
from exercises.music.engraving import engrave, line_svg
from exercises.music.instruments import INSTRUMENTS
from exercises.music.keys import key_alters
from exercises.music.midi_out import held_notes
from exercises.music.musicxml_out import part_to_musicxml
from exercises.music.part import make_part
from exercises.music.pitch import LETTERS, Pitch
from exercises.music.score import FOUR_FOUR, Line, Note
from tests.music.midi_files import render_midi
from tests.music.page_reader import read_midi
from tests.music.test_midi import heard
from tests.music.test_notation import lines
from tests.music.xsd import faults

PARTS = int(os.environ.get("BANDROOM_PAGE_PARTS", "100"))
PITCHED = [player.id for player in INSTRUMENTS.values() if player.pitched]
ONE = Fraction(1)


def random_line(chance):
    """Four bars of quarters: six notes in ten follow the key, the rest have any sign."""
    fifths = chance.randint(-5, 5)

    def note():
        if chance.random() < 0.06:
            return Note(None, ONE)
        letter = chance.choice(LETTERS)
        follows = chance.random() < 0.6
        alter = key_alters(fifths).get(letter, 0) if follows else chance.choice((-1, 0, 1))
        return Note(Pitch(letter, alter, chance.choice((3, 4))), ONE)

    bars = [[note() for _ in range(4)] for _ in range(4)]
    bars[0][0] = Note(Pitch("B", -1, 3), ONE)
    for left, right in pairwise(bars):
        if left[3].pitch and chance.random() < 0.4:
            left[3] = Note(left[3].pitch, ONE, tied=True)
            right[0] = Note(left[3].pitch, ONE)
    return Line("A", tuple(map(tuple, bars)), FOUR_FOUR, fifths)


def page_of(xml, note_count):
    tree = draw(xml, width_px=900, scale=40, last_justified_from=0.8)
    page = read_page(tree, prefix="p", note_count=note_count, system_gap_px=10)
    return f'<svg xmlns="http://www.w3.org/2000/svg">{page.svg()}</svg>'


def test_page_of_random_parts_reads_as_intended(capsys):
    chance = random.Random(1603)
    notes = dropped = caught = 0
    for number in range(PARTS):
        line = random_line(chance)
        part = make_part(line, PITCHED[number % len(PITCHED)])
        told = (number, part.instrument_id, line.fifths, part.line)
        intended = [note.pitch.midi for note in part.line.notes if note.pitch]
        notes += len(intended)
        courtesy = number % 2 == 0

        engraving = engrave(part, prefix="p", width_px=900, bars_per_system=2, courtesy=courtesy)
        assert read_midi(line_svg(engraving, label="x")) == intended, told

        xml = part_to_musicxml(part, prefix="p", tempo=72, courtesy=courtesy, bars_per_system=2)
        assert faults(xml) == [], told
        sounding = [held.midi for held in held_notes(part)]
        assert [note[0] for note in heard(base64.b64decode(render_midi(xml)))[1]] == sounding, told
        pairs = zip(part.sounding_midi(), line.notes, strict=True)
        apart = {ours - note.pitch.midi for ours, note in pairs if note.pitch}
        assert len(apart) == 1, told
        assert apart.pop() % 12 == 0, told

        required = list(re.finditer(r"<accidental>[^<]*</accidental>", xml))
        if required:
            sign = chance.choice(required)
            without = xml[: sign.start()] + xml[sign.end() :]
            dropped += 1
            caught += read_midi(page_of(without, len(part.line.notes))) != intended
    with capsys.disabled():
        print(f"\n{PARTS} parts, {notes} notes read back; dropped signs caught: {caught} of {dropped}")
    assert dropped > PARTS / 2
    assert caught == dropped


@given(lines(), st.sampled_from(PITCHED))
@settings(max_examples=25)
def test_page_of_any_line_reads_as_intended(line, instrument_id):
    part = make_part(line, instrument_id)
    engraving = engrave(part, prefix="p", width_px=600, bars_per_system=3)
    intended = [note.pitch.midi for note in part.line.notes if note.pitch]
    assert read_midi(line_svg(engraving, label="x")) == intended
