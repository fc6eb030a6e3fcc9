"""Parts: keys, transposition, octave, spelling, verdict. Cases typed by hand in data/cases.json."""

import json
from pathlib import Path

import pytest

from exercises.music.errors import MusicError
from exercises.music.instruments import INSTRUMENTS, Ranges, instrument
from exercises.music.keys import fifths_of, friendlier_key
from exercises.music.notation import parse_notation
from exercises.music.part import (
    Range,
    RangeVerdict,
    choose_octave,
    make_part,
    make_parts,
    move_to_key,
    to_concert,
)
from exercises.music.patterns import Pattern, pattern_lines
from exercises.music.pitch import Pitch
from exercises.music.score import FOUR_FOUR, with_rests
from tests.music.cases import line_of

CASES = json.loads((Path(__file__).parent / "data" / "cases.json").read_text(encoding="utf-8"))
CASE_INSTRUMENTS = {
    "B-flat instrument (trumpet, clarinet): written = concert + M2": ("trumpet", "clarinet"),
    "B-flat low (tenor sax, bass clarinet, baritone TC): + M9": ("tenor_sax", "bass_clarinet", "baritone_tc"),
    "E-flat alto: + M6": ("alto_sax",),
    "E-flat baritone sax: + M13": ("bari_sax",),
    "F horn: + P5": ("horn",),
}


def names(line):
    return " ".join(note.pitch.name if note.pitch else "R" for note in line.notes)


def concert(text, *, fifths=-2):
    return parse_notation(text, label="A", metre=FOUR_FOUR, fifths=fifths)


@pytest.mark.parametrize(
    ("case", "instrument_id"),
    [(case, one) for case in CASES["transposition"] for one in CASE_INSTRUMENTS[case["part"]]],
)
def test_hand_typed_transposition(case, instrument_id):
    notes = case["concert"].split()
    filled = notes + ["R"] * (-len(notes) % 4)  # the cases are bare note lists
    bars = [" ".join(filled[i : i + 4]) for i in range(0, len(filled), 4)]
    line = line_of(" | ".join(bars), fifths=case["concert_key_fifths"])
    part = make_part(line, instrument_id, octave=0)
    assert names(part.line).replace(" R", "") == case["written"]
    assert part.line.fifths == case["written_key_fifths"]


@pytest.mark.parametrize("row", CASES["key_table"], ids=lambda row: str(row["concert_fifths"]))
def test_hand_typed_key_table(row):
    for column, one in (
        ("concert_instruments", "flute"),
        ("Bb_instruments", "clarinet"),
        ("Eb_instruments", "alto_sax"),
        ("F_horn", "horn"),
    ):
        plain = row["concert_fifths"] + fifths_of(INSTRUMENTS[one].from_concert)
        assert friendlier_key(plain) == row[column]


def test_alto_part_of_a_sharp_key_is_written_in_the_flat_twin():
    part = make_part(concert("E4:1 G#4 B4 D#4", fifths=4), "alto_sax", octave=0)
    assert part.line.fifths == -5
    assert names(part.line) == "Db5 F5 Ab5 C5"


def test_key_limit_is_a_setting():
    line = concert("E4:1 G#4 B4 D#4", fifths=4)
    assert make_part(line, "alto_sax", octave=0, key_limit=7).line.fifths == 7


def test_no_double_or_stray_sign_is_left():
    part = make_part(concert("A#4:1 E#4 B4 G#4", fifths=1), "alto_sax", octave=0)
    assert names(part.line) == "G5 D5 G#5 F5"


def test_octave_keeps_trumpet_in_reach_and_names_the_notes_outside():
    part = make_part(concert("Bb3:2 A | G Ab | C4 F3 | G F#"), "trumpet")
    assert part.octaves == 1
    assert part.verdict is RangeVerdict.OUTSIDE
    assert [(ref.bar, ref.beat) for ref in part.outside] == [(3, 1)]
    assert part.warnings[0] == "Bar 3, beat 1: D5 is above C5, outside this range."


def test_both_lines_of_an_exercise_share_one_octave():
    low, high = concert("Bb3:4 | C4"), concert("F4:4 | D5")
    alone = {make_part(low, "trumpet").octaves, make_part(high, "trumpet").octaves}
    together = {part.octaves for part in make_parts([low, high], "trumpet")}
    assert len(alone) == 2
    assert together == {choose_octave([low, high], "trumpet")}


SIDESTEPS = (
    "Bb3:2 A3 | G3 Ab3 | G3 A3 | C4 F3 | G3 F#3 | F3 G3 | A3 C4 | Bb3:4",
    "Bb3:1 A3 G3 A3 | G3 Ab3 A3 Ab3 | G3 F#3 G3 F3 | F3:2 F#3~ | F#3:1 F3 G3 rest | Eb3 E3 F3 Eb3 |"
    " D3 C4 A3 F3 | Bb3:4",
)


@pytest.mark.parametrize(
    ("instrument_id", "first", "outside"),
    [
        ("alto_sax", "G4", "B3"),  # an octave higher 30 of 41 notes would lie above the break, up to A5
        ("bari_sax", "G4", "B3"),
        ("bassoon", "Bb2", "Eb2 Eb2 D2"),  # an octave higher most notes want the half hole or a flick
        ("trumpet", "C5", "D5 D5 D5"),  # an octave lower ten notes lie under the horn
        ("clarinet", "C4", ""),
        ("flute", "Bb4", ""),
    ],
)
def test_line_stays_where_it_is_easy_and_a_single_note_outside_is_said(instrument_id, first, outside):
    lines = [concert(text) for text in SIDESTEPS]
    parts = make_parts(lines, instrument_id)
    assert parts[0].line.notes[0].pitch.name == first
    beyond = [part.line.notes[ref.index].pitch.name for part in parts for ref in part.outside]
    assert " ".join(beyond) == outside
    assert sum(len(part.warnings) for part in parts) == len(beyond)


def test_line_with_many_notes_outside_goes_where_it_is_a_stretch():
    """Concert C scale: an alto would have 8 of 30 notes below its range, or 14 above the easy ones."""
    lines = pattern_lines(Pattern.SCALE, fifths=0)
    parts = make_parts(lines, "alto_sax")
    assert parts[0].line.notes[0].pitch.name == "A4"
    assert {part.verdict for part in parts} == {RangeVerdict.STRETCH}


#: Home octaves of the first five notes of concert B flat in a first-year band: common practice, no source.
HOMES = {
    "flute": "Bb4", "oboe": "Bb4", "clarinet": "C4", "bass_clarinet": "C4", "alto_sax": "G4",
    "tenor_sax": "C5", "bari_sax": "G4", "trumpet": "C4", "horn": "F4", "trombone": "Bb2",
    "baritone_bc": "Bb2", "baritone_tc": "C4", "tuba": "Bb1", "bells": "Bb4",
}  # fmt: skip


@pytest.mark.parametrize("instrument_id", HOMES)
def test_first_five_notes_lie_at_home(instrument_id):
    part, _ = make_parts(pattern_lines(Pattern.FIVE_NOTES, fifths=-2), instrument_id)
    assert part.line.notes[0].pitch.name == HOMES[instrument_id]
    assert part.outside == ()


def test_octave_can_be_forced():
    assert names(make_part(concert("Bb3:4"), "clarinet", octave=1).line) == "C5"


def test_own_ranges_replace_the_common_ones():
    ranges = Ranges(Range.parse("C4", "E4"), Range.parse("C4", "F4"))
    part = make_part(concert("Bb3:1 D4 Eb4 F4"), "clarinet", ranges=ranges, octave=0)
    assert [ref.index for ref in part.stretch] == [2]
    assert [ref.index for ref in part.outside] == [3]


def test_broken_half_step_is_named():
    part = make_part(concert("D4:1 D#4 E4 D#4", fifths=4), "alto_sax", octave=0)
    assert names(part.line) == "B4 C5 Db5 C5"
    assert part.warnings[0] == (
        "Bar 1, beat 2: the half step D to D sharp (concert) is written B to C in this part."
    )


def test_left_out_note_becomes_a_rest_and_another_can_replace_it():
    line = concert("Bb3:1 C D F")
    part = make_part(line, "trumpet", octave=0, left_out=frozenset({3}), instead={1: Pitch.parse("E4")})
    assert names(part.line) == "C4 E4 E4 R"


def test_leaving_out_a_held_note_leaves_out_all_of_it():
    line = concert("Bb3:2 C4~ | C4 D")
    assert names(with_rests(line, {2})) == "Bb3 R R D4"
    assert not any(note.tied for note in with_rests(line, {1}).notes)


def test_as_written_for_an_instrument_comes_back_unchanged():
    written = concert("G4:1 A4 B4 C#5", fifths=1)
    heard = to_concert(written, "alto_sax")
    assert (names(heard), heard.fifths) == ("Bb3 C4 D4 E4", -2)
    assert make_part(heard, "alto_sax", octave=0).line == written


def test_moving_to_another_key_keeps_the_tune():
    line = concert("Bb3:1 C D F")
    assert names(move_to_key(line, -3)) == "Eb4 F4 G4 Bb4"
    assert names(move_to_key(line, -1)) == "F3 G3 A3 C4"


def test_snare_part_has_the_rhythm_and_no_pitch():
    part = make_part(concert("Bb3:1 C rest F"), "snare")
    assert names(part.line) == "C5 C5 R C5"
    assert part.line.fifths == 0
    assert part.sounding_midi() == (None,) * 4


def test_bells_sound_two_octaves_above_their_part():
    part = make_part(concert("Bb3:4"), "bells")
    assert names(part.line) == "Bb4"
    assert part.sounding_midi() == (94,)


@pytest.mark.parametrize("one", ["flute", "trumpet"])
def test_line_that_does_not_add_up_is_refused(one):
    with pytest.raises(MusicError, match=r"Bar 1 has 3 beats, but 4/4 needs 4 beats: add 1 beat\."):
        make_part(line_of("C4 D4 E4"), one)


def test_unknown_instrument_is_named():
    with pytest.raises(MusicError, match="“kazoo” is not an instrument here"):
        instrument("kazoo")


def test_score_order_is_that_of_the_data():
    assert " ".join(INSTRUMENTS) == (
        "flute oboe bassoon clarinet bass_clarinet alto_sax tenor_sax bari_sax trumpet horn trombone "
        "baritone_bc baritone_tc tuba bells xylophone snare"
    )
