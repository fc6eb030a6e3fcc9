"""Transposition and keys against tables that we did not write: music21 10.5 and abjad 3.31.

Where a library disagrees, the disagreement is listed with its reason and must stay as it is listed.
"""

import itertools

import abjad
import music21
import pytest

from exercises.music.instruments import INSTRUMENTS
from exercises.music.keys import fifths_of, key_alters
from exercises.music.musicxml_out import part_to_musicxml, score_to_musicxml
from exercises.music.notation import parse_notation
from exercises.music.part import make_part
from exercises.music.pitch import Interval, Pitch
from exercises.music.score import FOUR_FOUR

MUSIC21 = {
    "flute": music21.instrument.Flute,
    "oboe": music21.instrument.Oboe,
    "bassoon": music21.instrument.Bassoon,
    "clarinet": music21.instrument.Clarinet,
    "bass_clarinet": music21.instrument.BassClarinet,
    "alto_sax": music21.instrument.AltoSaxophone,
    "tenor_sax": music21.instrument.TenorSaxophone,
    "bari_sax": music21.instrument.BaritoneSaxophone,
    "trumpet": music21.instrument.Trumpet,
    "horn": music21.instrument.Horn,
    "trombone": music21.instrument.Trombone,
    "tuba": music21.instrument.Tuba,
    "bells": music21.instrument.Glockenspiel,
    "xylophone": music21.instrument.Xylophone,
}
MUSIC21_DISAGREES = {
    "bells": "music21 gives the glockenspiel no transposition; it sounds two octaves above its part",
    "xylophone": "music21 gives the xylophone no transposition; it sounds an octave above its part",
}
NOT_IN_MUSIC21 = {
    "baritone_bc": "music21's Baritone is a singer; it has no baritone horn",
    "baritone_tc": "music21's Baritone is a singer; it has no baritone horn",
    "snare": "not pitched",
}
ABJAD = {
    "flute": abjad.instruments.Flute,
    "oboe": abjad.instruments.Oboe,
    "bassoon": abjad.instruments.Bassoon,
    "clarinet": abjad.instruments.ClarinetInBFlat,
    "bass_clarinet": abjad.instruments.BassClarinet,
    "alto_sax": abjad.instruments.AltoSaxophone,
    "tenor_sax": abjad.instruments.TenorSaxophone,
    "bari_sax": abjad.instruments.BaritoneSaxophone,
    "trumpet": abjad.instruments.Trumpet,
    "horn": abjad.instruments.FrenchHorn,
    "trombone": abjad.instruments.TenorTrombone,
    "tuba": abjad.instruments.Tuba,
    "bells": abjad.instruments.Glockenspiel,
    "xylophone": abjad.instruments.Xylophone,
}
ABJAD_DISAGREES = {"trumpet": "abjad's Trumpet is the trumpet in C; a school band's is in B flat"}


def m21(pitch):
    return music21.pitch.Pitch(pitch.name.replace("b", "-"))


def test_every_instrument_is_accounted_for():
    assert set(MUSIC21) | set(NOT_IN_MUSIC21) == set(INSTRUMENTS)
    assert set(ABJAD) | set(NOT_IN_MUSIC21) == set(INSTRUMENTS)


@pytest.mark.parametrize("instrument_id", MUSIC21)
def test_transposition_is_music21s(instrument_id):
    theirs = MUSIC21[instrument_id]().transposition
    ours = INSTRUMENTS[instrument_id].to_sounding
    if instrument_id in MUSIC21_DISAGREES:
        assert theirs is None
        assert ours.semitones > 0
    elif theirs is None:
        assert ours == Interval(0, 0)
    else:
        # generic.directed counts a unison as 1, so a step up is 2 and a step down -2
        steps = theirs.generic.directed - (1 if theirs.generic.directed > 0 else -1)
        assert (ours.steps, ours.semitones) == (steps, theirs.semitones)


@pytest.mark.parametrize("instrument_id", ABJAD)
def test_transposition_is_abjads(instrument_id):
    """abjad says which pitch a written middle C sounds."""
    player = INSTRUMENTS[instrument_id]
    theirs = abjad.NamedPitch(ABJAD[instrument_id]().middle_c_sounding_pitch)
    ours = Pitch("C", 0, 4).moved(player.to_sounding)
    if instrument_id in ABJAD_DISAGREES:
        assert theirs.get_name_in_locale(locale="us") == "C4"
        assert ours.name == "Bb3"
    else:
        assert theirs.get_name_in_locale(locale="us") == ours.name


@pytest.mark.parametrize("instrument_id", [one for one in MUSIC21 if one not in MUSIC21_DISAGREES])
def test_spelled_transposition_of_every_note_is_music21s(instrument_id):
    theirs = MUSIC21[instrument_id]().transposition
    for letter, alter, octave in itertools.product("CDEFGAB", (-1, 0, 1), (2, 3, 4, 5)):
        written = Pitch(letter, alter, octave)
        expected = m21(written).transpose(theirs) if theirs else m21(written)
        ours = written.moved(INSTRUMENTS[instrument_id].to_sounding)
        assert ours.name == expected.nameWithOctave.replace("-", "b")


#: Name in music21, then letter steps and semitones.
INTERVALS = {
    "A1": (0, 1), "m2": (1, 1), "M2": (1, 2), "A2": (1, 3), "m3": (2, 3), "M3": (2, 4), "d4": (3, 4),
    "P4": (3, 5), "A4": (3, 6), "d5": (4, 6), "P5": (4, 7), "A5": (4, 8), "m6": (5, 8), "M6": (5, 9),
    "d7": (6, 9), "m7": (6, 10), "M7": (6, 11), "P8": (7, 12), "M9": (8, 14), "M13": (12, 21),
}  # fmt: skip


@pytest.mark.parametrize("name", INTERVALS)
def test_spelled_intervals_are_music21s(name):
    """20 intervals from 21 spelled notes: 420 moves."""
    for letter, alter in itertools.product("CDEFGAB", (-1, 0, 1)):
        pitch = Pitch(letter, alter, 4)
        theirs = m21(pitch).transpose(music21.interval.Interval(name))
        moved = pitch.moved(Interval(*INTERVALS[name]))
        assert moved.name == theirs.nameWithOctave.replace("-", "b")


@pytest.mark.parametrize("name", INTERVALS)
def test_spelled_intervals_are_abjads(name):
    """The same moves by a third library, which has no triple signs."""
    for letter, alter in itertools.product("CDEFGAB", (-1, 0, 1)):
        pitch = Pitch(letter, alter, 4)
        moved = pitch.moved(Interval(*INTERVALS[name]))
        if abs(moved.alter) > 2:
            continue
        theirs = abjad.NamedPitch(pitch.name) + abjad.NamedInterval(name)
        assert moved.name == theirs.get_name_in_locale(locale="us")


@pytest.mark.parametrize("fifths", range(-7, 8))
def test_key_signatures_are_music21s(fifths):
    theirs = music21.key.KeySignature(fifths).alteredPitches
    assert dict(key_alters(fifths)) == {pitch.step: int(pitch.alter) for pitch in theirs}


@pytest.mark.parametrize("instrument_id", [one for one in MUSIC21 if one not in MUSIC21_DISAGREES])
def test_keys_of_parts_are_music21s(instrument_id):
    theirs = MUSIC21[instrument_id]().transposition
    for fifths in range(-4, 3):
        key = music21.key.KeySignature(fifths)
        expected = key.transpose(theirs.reverse()).sharps if theirs else fifths
        assert fifths + fifths_of(INSTRUMENTS[instrument_id].from_concert) == expected


@pytest.mark.parametrize("instrument_id", [one for one in INSTRUMENTS if INSTRUMENTS[one].pitched])
def test_music21_reads_our_file_at_sounding_pitch(instrument_id):
    """music21 reads <alter> and <transpose>: the same sounds as ours, the same spelling, the same ties."""
    line = parse_notation("Bb3:1 A G# A | F:2 F#~ | F#:1 F G rest", label="A", metre=FOUR_FOUR, fifths=-2)
    part = make_part(line, instrument_id)
    for xml in (
        part_to_musicxml(part, prefix="p", tempo=72),
        score_to_musicxml([[part]], title="x", tempos=[72]),
    ):
        score = music21.converter.parseData(xml, format="musicxml")
        written = [n.pitch.nameWithOctave.replace("-", "b") for n in score.flatten().notes]
        assert written == [note.pitch.name for note in part.line.notes if note.pitch]
        sounding = [n.pitch.midi for n in score.toSoundingPitch().flatten().notes]
        assert sounding == [midi for midi in part.sounding_midi() if midi is not None]
        assert [bool(n.tie and n.tie.type == "start") for n in score.flatten().notes] == [
            note.tied for note in part.line.notes if note.pitch
        ]


@pytest.mark.parametrize("instrument_id", [one for one in ABJAD if INSTRUMENTS[one].full])
def test_beginner_ranges_lie_inside_the_whole_range(instrument_id):
    """Whole ranges are those of abjad and music21 as the data names them; beginner ranges have no source."""
    player = INSTRUMENTS[instrument_id]
    assert player.full.low.midi <= player.ranges.extended.low.midi
    assert player.ranges.extended.high.midi <= player.full.high.midi
    assert player.ranges.extended.low.midi <= player.ranges.comfortable.low.midi
    assert player.ranges.comfortable.high.midi <= player.ranges.extended.high.midi
