"""Count-offs, counts, letter names, patterns and play-along events. Practice of the trade: no source."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from exercises.music.counting import CountKind, count_off, counts, names_in_rhythm
from exercises.music.errors import MusicError
from exercises.music.instruments import INSTRUMENTS
from exercises.music.notation import format_notation, parse_notation
from exercises.music.part import RangeVerdict, make_part, make_parts
from exercises.music.patterns import BEGINNER_KEYS, Pattern, pattern_lines
from exercises.music.pitch import Pitch
from exercises.music.playback import Tone, hertz, playback
from exercises.music.score import FOUR_FOUR, Metre
from exercises.music.spelling import spell


def line(text, *, metre=FOUR_FOUR, fifths=-2):
    return parse_notation(text, label="A", metre=metre, fifths=fifths)


def said(counted):
    return " ".join(count.label if count.said else "-" for count in counted)


@pytest.mark.parametrize(
    ("metre", "options", "words"),
    [
        ("4/4", {}, "1 2 ready play"),
        ("4/4", {"bars": 2}, "1 2 3 4 1 2 ready play"),
        ("4/4", {"slow": True}, "1 - 2 - 1 2 ready play"),
        ("3/4", {}, "1 2 3 1 ready play"),
        ("2/4", {}, "1 2 ready play"),
        ("2/2", {}, "1 2 ready play"),
        ("6/8", {}, "1 2 3 4 ready play"),
        ("5/4", {}, "1 2 3 ready play"),
        ("4/4", {"bars": 0}, ""),
        ("4/4", {"lead_in": Fraction(3)}, "1 2 3 4 1 2 ready"),
        ("3/4", {"lead_in": Fraction(2)}, "1 2 3 1 ready"),
    ],
)
def test_count_off_by_metre(metre, options, words):
    assert said(count_off(Metre.parse(metre), **options)) == words


def test_count_off_ends_where_the_line_begins():
    counted = count_off(FOUR_FOUR)
    assert [count.start for count in counted] == [-4, -3, -2, -1]
    assert [count.accent for count in counted] == [True, False, False, False]
    assert [count.breathe for count in counted] == [False, False, False, True]
    pickup = count_off(FOUR_FOUR, lead_in=Fraction(3))
    assert [count.start for count in pickup] == [-7, -6, -5, -4, -3, -2, -1]
    assert [count.start for count in count_off(Metre(6, 8))] == [Fraction(-n, 2) for n in (6, 5, 4, 3, 2, 1)]
    with pytest.raises(MusicError):
        count_off(FOUR_FOUR, bars=3)


def labels(text, metre=FOUR_FOUR):
    marks = counts(line(text, metre=metre))
    kinds = {CountKind.START: "", CountKind.HELD: "-", CountKind.REST: "."}
    return " ".join(kinds[mark.kind] + mark.label for mark in marks)


def test_counts_name_the_start_and_hold_the_rest():
    assert labels("Bb3:2 A") == "1 -2 3 -4"
    assert labels("Bb3:4") == "1 -2 -3 -4"
    assert labels("Bb3:3 rest:1") == "1 -2 -3 .4"
    assert labels("Bb3:1/2 C D:1 E:1.5 F:1/2") == "1 & 2 3 -4 &"
    assert labels("Bb3:1/4 C D E F:3") == "1 e & a 2 -3 -4"
    assert labels("Bb3:2 C~ | C:2 D") == "1 -2 3 -4 -1 -2 3 -4"
    assert labels("C4:1.5 D:1/2 E F", Metre(6, 8)) == "1 -2 -3 4 5 6"
    assert labels("pickup F4 | Bb4:4 | A:3") == "4 1 -2 -3 -4 1 -2 -3"


def test_letter_names_say_what_sounds_even_where_nothing_is_printed():
    names = names_in_rhythm(make_part(line("Bb3:1 A G# G# | F:2 Eb~ | Eb:1 rest D:2"), "flute", octave=1))
    assert [(name.said, name.beats) for name in names] == [
        ("B flat", 1),
        ("A", 1),
        ("G sharp", 1),
        ("G sharp", 1),
        ("F", 2),
        ("E flat", 3),
        ("D", 2),
    ]
    assert names[0].printed == "B♭"
    assert names_in_rhythm(make_part(line("Bb3:4"), "snare")) == ()


def test_patterns_in_halves_and_quarters():
    a, b = pattern_lines(Pattern.CHROMATIC, fifths=-2, half_steps=4)
    assert format_notation(a) == "Bb3:2 B3 | C4 C#4 | D4 Db4 | C4 B3 | Bb3:4"
    assert format_notation(b) == "Bb3 B3 C4 C#4 | D4 Db4 C4 B3 | Bb3:4"
    assert format_notation(pattern_lines(Pattern.FIVE_NOTES, fifths=-3)[1]) == (
        "Eb3 F3 G3 Ab3 | Bb3 Ab3 G3 F3 | Eb3:4"
    )
    assert format_notation(pattern_lines(Pattern.SCALE, fifths=-1)[0]).startswith("F3:2 G3 | A3 Bb3 | C4 D4")
    assert format_notation(pattern_lines(Pattern.LONG_TONES, fifths=0)[0]).startswith("C3:4 | D3 | E3")
    assert format_notation(pattern_lines(Pattern.THIRDS, fifths=-2)[1]).startswith("Bb3 D4 C4 Eb4 |")


def test_chromatic_walk_can_start_anywhere_and_has_an_end():
    a, _ = pattern_lines(Pattern.CHROMATIC, fifths=-2, start=Pitch.parse("F4"), half_steps=2)
    assert format_notation(a) == "F4:2 F#4 | G4 Gb4 | F4:4"
    for steps in (0, 13):
        with pytest.raises(MusicError):
            pattern_lines(Pattern.CHROMATIC, fifths=0, half_steps=steps)


@pytest.mark.parametrize("pattern", Pattern)
@pytest.mark.parametrize("fifths", BEGINNER_KEYS)
@pytest.mark.parametrize("metre", ["4/4", "3/4", "2/4", "2/2", "6/8"])
def test_every_pattern_makes_a_part_for_every_instrument(pattern, fifths, metre):
    lines = pattern_lines(pattern, fifths=fifths, metre=Metre.parse(metre))
    for instrument_id in INSTRUMENTS:
        for part in make_parts(lines, instrument_id):
            assert abs(part.line.fifths) <= 4
            assert part.verdict in RangeVerdict


def test_spelling_rises_in_sharps_falls_in_flats_and_leans_on_its_neighbour():
    def names(midis, fifths):
        return " ".join(pitch.name for pitch in spell(midis, fifths))

    assert names([65, 66, 67, 68, 69], 0) == "F4 F#4 G4 G#4 A4"
    assert names([69, 68, 67, 66, 65], 0) == "A4 Ab4 G4 Gb4 F4"
    assert names([67, 66, 67], 0) == "G4 F#4 G4"
    assert names([67, 68, 67], 0) == "G4 Ab4 G4"
    assert names([69, 70, 71], -2) == "A4 Bb4 B4"
    assert names([66], -6) == "Gb4"
    assert names([71], -6) == "Cb5"


@given(st.lists(st.integers(30, 100), min_size=1, max_size=12), st.integers(-7, 7))
def test_spelling_never_changes_the_sound(midis, fifths):
    assert [pitch.midi for pitch in spell(midis, fifths)] == midis


def test_reference_tones_are_tuned_to_iso_16():
    """ISO 16:1975: A above middle C is 440 Hz. MIDI numbers: A4 is 69 (MIDI 1.0, General MIDI note table).
    The other values are the usual equal-tempered table, rounded to a cent or better (from memory)."""
    assert hertz(69) == 440.0
    assert hertz(57) == 220.0
    assert hertz(60) == pytest.approx(261.6256, abs=1e-4)
    assert hertz(58) == pytest.approx(233.0819, abs=1e-4)
    assert hertz(21) == pytest.approx(27.5, abs=1e-9)


def test_playback_sounds_at_concert_pitch_with_ties_joined():
    heard = playback(make_part(line("Bb3:2 A~ | A:2 rest"), "alto_sax", octave=0))
    assert heard.tone is Tone.REED
    assert [(s.note, s.hertz, s.start, s.beats) for s in heard.sounds] == [
        (0, 233.0819, 0.0, 2.0),
        (1, 220.0, 2.0, 4.0),
    ]
    assert [(stop.note, stop.start) for stop in heard.cursor] == [(0, 0.0), (1, 2.0), (2, 4.0), (3, 6.0)]
    assert [(bar.bar, bar.start) for bar in heard.bars] == [(1, 0.0), (2, 4.0)]
    assert heard.beats == 8.0
    assert heard.to_json()["sounds"][0]["hertz"] == 233.0819


def test_playback_of_bells_can_be_lowered_and_says_so():
    part = make_part(line("Bb3:4"), "bells")
    assert playback(part).sounds[0].hertz == pytest.approx(4 * 466.1638, abs=1e-3)
    lowered = playback(part, octaves_down=2)
    assert lowered.sounds[0].hertz == 466.1638
    assert lowered.octaves_down == 2
    assert playback(make_part(line("Bb3:4"), "snare")).sounds[0].hertz is None
    assert playback(make_part(line("pickup F4 | Bb4:4 | A:3"), "flute")).lead_in == 3.0
