"""Laws that hold for every line and every instrument (hypothesis)."""

from dataclasses import replace
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from exercises.music.instruments import INSTRUMENTS
from exercises.music.keys import key_alters
from exercises.music.part import RangeVerdict, make_part, make_parts, move_to_key, to_concert
from exercises.music.pitch import Interval, Pitch
from exercises.music.reading import ACCIDENTAL_OF_ALTER, Reason, read
from tests.music.test_notation import PITCHES, lines

PITCHED = [player.id for player in INSTRUMENTS.values() if player.pitched]
ALTER_OF_SIGN = {sign: alter for alter, sign in ACCIDENTAL_OF_ALTER.items()}


def read_signs(line, signs):
    """A reader of its own: letters, octaves, ties and printed signs only, by the rules of notation."""
    key, sounds = key_alters(line.fifths), []
    in_bar, bar, held = {}, None, None
    for note, ref, sign in zip(line.notes, line.refs(), signs, strict=True):
        if ref.bar != bar:
            in_bar, bar = {}, ref.bar
        if note.pitch is None:
            sounds.append(None)
            held = None
            continue
        place = (note.pitch.letter, note.pitch.octave)
        if sign is not None:
            in_bar[place] = alter = ALTER_OF_SIGN[sign]
        elif held is not None:
            alter = held
        else:
            alter = in_bar.get(place, key.get(note.pitch.letter, 0))
        sounds.append(Pitch(note.pitch.letter, alter, note.pitch.octave).midi)
        held = alter if note.tied else None
    return sounds


def midis(line):
    return [note.pitch and note.pitch.midi for note in line.notes]


@given(PITCHES, st.integers(-20, 20), st.integers(-30, 30))
def test_moving_there_and_back_changes_nothing(pitch, steps, semitones):
    interval = Interval(steps, semitones)
    moved = pitch.moved(interval)
    assert moved.moved(-interval) == pitch
    assert moved.midi - pitch.midi == semitones
    assert moved.height - pitch.height == steps


@given(PITCHES, st.sampled_from(PITCHED))
def test_written_of_sounding_is_itself(pitch, instrument_id):
    player = INSTRUMENTS[instrument_id]
    assert pitch.moved(player.to_sounding).moved(player.from_concert) == pitch


@given(lines(lowest=3, highest=5), st.sampled_from(PITCHED))
def test_part_read_back_to_concert_pitch_sounds_as_it_was(line, instrument_id):
    part = make_part(line, instrument_id, octave=0)
    assert midis(to_concert(part.line, instrument_id)) == midis(line)


@given(lines(), st.integers(1, 3))
def test_all_parts_sound_alike_up_to_whole_octaves(line, seed):
    for instrument_id in PITCHED[seed::3]:
        part = make_part(line, instrument_id)
        apart = {
            ours - note.pitch.midi
            for ours, note in zip(part.sounding_midi(), line.notes, strict=True)
            if note.pitch
        }
        assert len(apart) == 1
        assert apart.pop() % 12 == 0


@given(lines(), st.sampled_from(PITCHED))
def test_no_note_leaves_its_range_without_a_word(line, instrument_id):
    part = make_part(line, instrument_id)
    ranges = INSTRUMENTS[instrument_id].ranges
    outside = [
        index
        for index, note in enumerate(part.line.notes)
        if note.pitch and not ranges.extended.low.midi <= note.pitch.midi <= ranges.extended.high.midi
    ]
    easy = all(
        ranges.comfortable.low.midi <= note.pitch.midi <= ranges.comfortable.high.midi
        for note in part.line.notes
        if note.pitch
    )
    assert [ref.index for ref in part.outside] == outside
    assert len(part.warnings) >= len(outside)
    assert part.verdict is (
        RangeVerdict.OUTSIDE if outside else RangeVerdict.COMFORTABLE if easy else RangeVerdict.STRETCH
    )


@given(lines(), st.sampled_from(PITCHED))
def test_part_has_no_double_sign_and_no_stray_one(line, instrument_id):
    part = make_part(line, instrument_id)
    key = key_alters(part.line.fifths)
    for note in part.line.notes:
        if note.pitch and key.get(note.pitch.letter, 0) != note.pitch.alter:
            assert abs(note.pitch.alter) <= 1
            assert (note.pitch.letter, note.pitch.alter) not in {("E", 1), ("B", 1), ("C", -1), ("F", -1)}


@given(lines())
def test_signs_read_as_intended_and_courtesy_signs_change_nothing(line):
    with_courtesy, without = read(line), read(line, courtesy=False)
    assert read_signs(line, [reading.accidental for reading in with_courtesy]) == midis(line)
    assert read_signs(line, [reading.accidental for reading in without]) == midis(line)
    required = [r.accidental for r in with_courtesy if r.accidental and not r.courtesy]
    assert required == [r.accidental for r in without if r.accidental]
    assert not any(reading.courtesy for reading in without)


@given(lines())
def test_no_required_sign_can_be_spared(line):
    signs = [reading.accidental for reading in read(line, courtesy=False)]
    for place, sign in enumerate(signs):
        if sign is not None:
            assert read_signs(line, [*signs[:place], None, *signs[place + 1 :]]) != midis(line)


@given(lines())
def test_every_cause_stands_before_its_note_and_every_reading_has_words(line):
    for reading in read(line):
        assert reading.words.endswith(".")
        if reading.cause is not None:
            assert reading.cause.index < reading.ref.index
        if reading.reason in (Reason.CARRIED, Reason.SIGN_CANCELLED):
            assert reading.cause.bar == reading.ref.bar


@given(lines(), st.sampled_from(PITCHED))
def test_one_octave_shift_keeps_the_contour(line, instrument_id):
    part = make_part(line, instrument_id)
    for (a, b), (c, d) in zip(pairwise(midis(line)), pairwise(midis(part.line)), strict=True):
        if a is not None and b is not None:
            assert b - a == d - c


@given(st.lists(lines(), min_size=2, max_size=2), st.sampled_from(PITCHED))
def test_lines_of_one_exercise_share_their_octave(both, instrument_id):
    parts = make_parts(both, instrument_id)
    assert len({part.octaves for part in parts}) == 1


@given(lines(lowest=3, highest=5), st.integers(-7, 7))
def test_moving_to_another_key_and_back_keeps_the_tune(line, fifths):
    there = move_to_key(line, fifths)
    assert there.fifths == fifths
    apart = {b - a for a, b in zip(midis(line), midis(there), strict=True) if a is not None}
    assert len(apart) == 1
    assert abs(apart.pop()) <= 6
    back = move_to_key(there, line.fifths)
    assert [m % 12 for m in midis(back) if m] == [m % 12 for m in midis(line) if m]


@given(lines())
def test_label_and_metre_are_untouched(line):
    part = make_part(replace(line, label="B"), "horn")
    assert (part.line.label, part.line.metre) == ("B", line.metre)
    assert [note.beats for note in part.line.notes] == [note.beats for note in line.notes]
