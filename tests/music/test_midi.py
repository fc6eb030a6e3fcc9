"""MIDI out and in. The reading side of these checks is music21's MIDI reader; the writing side verovio's."""

import base64
from fractions import Fraction

import pytest
from music21.midi import ChannelVoiceMessages, MetaEvents, MidiFile

from exercises.music.errors import MusicError
from exercises.music.incoming import ProblemKind
from exercises.music.instruments import INSTRUMENTS
from exercises.music.midi_in import read_midi
from exercises.music.midi_out import held_notes, score_to_midi
from exercises.music.musicxml_out import part_to_musicxml
from exercises.music.notation import format_notation, parse_notation
from exercises.music.part import make_part, make_parts
from exercises.music.score import FOUR_FOUR
from exercises.music.uploads import read_upload
from tests.music.midi_files import part_to_midi, render_midi

LINE = "Bb3:1 A G# A | F:2 F#~ | F#:1 F G rest | Bb3:1.5 A:1/2 G:2"


def line(text=LINE, *, label="A", fifths=-2):
    return parse_notation(text, label=label, metre=FOUR_FOUR, fifths=fifths)


def heard(data):
    """(MIDI number, start, length) in quarter notes of every note of the file, by track."""
    file = MidiFile()
    file.readstr(data)
    tracks = []
    for track in file.tracks:
        at, open_notes, notes = 0, {}, []
        for event in track.events:
            if event.isDeltaTime():
                at += event.time
            elif event.type == ChannelVoiceMessages.NOTE_ON and event.velocity:
                open_notes[event.pitch] = at
            elif event.type in (ChannelVoiceMessages.NOTE_ON, ChannelVoiceMessages.NOTE_OFF):
                start = open_notes.pop(event.pitch)
                tick = file.ticksPerQuarterNote
                notes.append((event.pitch, Fraction(start, tick), Fraction(at - start, tick)))
        assert not open_notes
        tracks.append(sorted(notes, key=lambda note: note[1]))
    return tracks


def events(data, kind):
    file = MidiFile()
    file.readstr(data)
    return [event for track in file.tracks for event in track.events if event.type == kind]


@pytest.mark.parametrize("instrument_id", INSTRUMENTS)
def test_file_sounds_as_the_part_does(instrument_id):
    part = make_part(line(), instrument_id)
    written = [(held.midi, held.start, held.beats) for held in held_notes(part)]
    assert heard(part_to_midi(part, tempo=72))[1] == written


@pytest.mark.parametrize("instrument_id", [one for one, player in INSTRUMENTS.items() if player.pitched])
def test_engraver_hears_the_same_in_our_musicxml(instrument_id):
    """verovio 6.4 applies <transpose> by itself: an outside check of every transposition."""
    part = make_part(line(), instrument_id)
    theirs = base64.b64decode(render_midi(part_to_musicxml(part, prefix="p", tempo=72)))
    ours = heard(part_to_midi(part, tempo=72))[1]
    assert [note[0] for note in heard(theirs)[1]] == [note[0] for note in ours]


def test_tempo_metre_key_and_program_are_in_the_file():
    data = part_to_midi(make_part(line(), "alto_sax"), tempo=72, title="Sidesteps")
    assert int.from_bytes(events(data, MetaEvents.SET_TEMPO)[0].data[:3], "big") == 833_333
    assert list(events(data, MetaEvents.TIME_SIGNATURE)[0].data[:2]) == [4, 2]
    assert events(data, MetaEvents.KEY_SIGNATURE)[0].data[0] == 1
    assert events(data, ChannelVoiceMessages.PROGRAM_CHANGE)[0].data == 65


def test_whole_score_has_one_track_each_and_line_b_after_line_a():
    lines = [line("Bb3:4 | C4:4"), line("Bb3:1 C4 D4 Eb4", label="B")]
    data = score_to_midi([make_parts(lines, one) for one in INSTRUMENTS], tempos=[72, 80])
    tracks = heard(data)
    assert len(tracks) == 1 + len(INSTRUMENTS)
    for track in tracks[1:]:
        assert [start for _, start, _ in track] == [0, 4, 8, 9, 10, 11]
    assert len(events(data, MetaEvents.SET_TEMPO)) == 2


def test_pickup_begins_at_its_place_in_the_bar():
    data = part_to_midi(make_part(line("pickup F4 | Bb4:4 | A4:3"), "flute"), tempo=72)
    assert [start for _, start, _ in heard(data)[1]] == [3, 4, 8]


def test_drum_part_is_on_channel_ten():
    data = part_to_midi(make_part(line(), "snare"), tempo=72)
    assert {(e.channel, e.pitch) for e in events(data, ChannelVoiceMessages.NOTE_ON)} == {(10, 38)}


def test_long_delta_times_are_written_in_seven_bit_groups():
    text = " | ".join(["Bb3:4", *["rest:4"] * 40, "C4:4"])
    assert heard(part_to_midi(make_part(line(text), "flute"), tempo=72))[1][1][1] == 164


def test_our_file_reads_back_with_the_key_spelling():
    part = make_part(line("Bb3:1 A G A | Eb4:2 F | Bb3:1.5 A:1/2 G:2"), "flute", octave=0)
    result = read_midi(part_to_midi(part, tempo=84))
    assert result.lines == (part.line,)
    assert result.tempo == 84
    assert [problem.kind for problem in result.problems] == [ProblemKind.SPELLING]


def test_note_over_the_bar_line_is_tied():
    part = make_part(line("Bb3:2 C4~ | C4:2 D"), "flute", octave=0)
    assert format_notation(read_midi(part_to_midi(part, tempo=72)).lines[0]) == "Bb3:2 C4~ | C4 D4"


def smf(*note_events, tracks=1, ticks=480, header=b"MThd"):
    """A hand-made file: (delta ticks, bytes) each."""
    body = bytearray()
    for delta, data in note_events:
        groups = [delta & 0x7F]
        while delta := delta >> 7:
            groups.append(delta & 0x7F | 0x80)
        body += bytes(reversed(groups)) + data
    body += b"\x00\xff\x2f\x00"
    chunk = b"MTrk" + len(body).to_bytes(4, "big") + bytes(body)
    return (
        header
        + (6).to_bytes(4)
        + (0 if tracks == 1 else 1).to_bytes(2)
        + tracks.to_bytes(2)
        + ticks.to_bytes(2)
        + chunk * tracks
    )


def on(pitch, delta=0, channel=0):
    return (delta, bytes([0x90 | channel, pitch, 80]))


def off(pitch, delta=0, channel=0):
    return (delta, bytes([0x80 | channel, pitch, 0]))


KEY_BB = (0, b"\xff\x59\x02\xfe\x00")


def test_notes_let_go_early_are_whole_notes_again():
    data = smf(KEY_BB, on(58), off(58, 430), on(60, 50), off(60, 910), on(62, 50), off(62, 400))
    assert format_notation(read_midi(data).lines[0]) == "Bb3 C4:2 D4:1"


@pytest.mark.parametrize(
    ("data", "kept", "message"),
    [
        (
            smf(KEY_BB, on(58), on(62), off(58, 1920), off(62)),
            "D4:4",
            "Bar 1, beat 1: several notes at once. Only the highest is kept.",
        ),
        (
            smf(KEY_BB, on(58), on(60, 480), off(58, 960), off(60, 480)),
            "Bb3 C4:3",
            "Bar 1, beat 1: a note that sounds on under the next. It is cut off there.",
        ),
        (
            smf(KEY_BB, on(58), off(58, 320), on(60), off(60, 320), on(62), off(62, 1280)),
            "Bb3:3/4 C4:0.5 D4:2~ D4:3/4",
            "Bar 1, just after beat 1: a note between the sixteenths (a triplet?). It is moved.",
        ),
        (
            smf(on(58), off(58, 1920)),
            "Bb3:4",
            "The file names no key: C major is taken. Choose the key, so that notes are spelled right.",
        ),
        (
            smf(KEY_BB, on(58), on(38, 0, 9), off(38, 480, 9), off(58, 1440)),
            "Bb3:4",
            "The drum track of the file is left out.",
        ),
    ],
)
def test_what_midi_cannot_say_is_named(data, kept, message):
    result = read_midi(data)
    assert message in [problem.message for problem in result.problems]
    assert format_notation(result.lines[0]) == kept


def test_key_can_be_given():
    result = read_midi(smf(on(61), off(61, 1920)), fifths=-4)
    assert (format_notation(result.lines[0]), result.lines[0].fifths) == ("Db4:4", -4)


@pytest.mark.parametrize(
    "data",
    [
        b"MThd",
        b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x01\xe0MTrk\xff\xff\xff\xff",
        smf(),
        smf(on(60), off(60, 480), ticks=0xE728),
        smf(on(60), off(60, 480), ticks=0),
        smf(on(38, 0, 9), off(38, 480, 9)),
        smf(on(60), off(60, 268_000_000)),
        smf(*[pair for _ in range(600) for pair in (on(60), off(60, 10))]),
        smf(
            (0, b"\xff\x58\x04\x04\x02\x18\x08"), on(60), off(60, 1920), (0, b"\xff\x58\x04\x03\x02\x18\x08")
        ),
        smf((0, b"\xff\x58\x04\x00\x02\x18\x08"), on(60), off(60, 1920)),
        smf(on(60), off(60, 480), header=b"RIFF"),
    ],
)
def test_bad_file_is_refused_in_one_sentence(data):
    with pytest.raises(MusicError) as raised:
        read_midi(data)
    assert len(raised.value.message) < 160


def test_midi_is_known_by_its_first_bytes():
    assert read_upload(smf(KEY_BB, on(58), off(58, 1920))).lines[0].notes[0].pitch.name == "Bb3"
