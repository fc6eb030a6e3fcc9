"""Reading MusicXML: what is kept, what is said, what is refused. music21 writes some of the files."""

import io
import zipfile
from fractions import Fraction

import music21
import pytest
from hypothesis import given, settings

from exercises.music.errors import MusicError
from exercises.music.incoming import MOST_BYTES, ProblemKind
from exercises.music.instruments import INSTRUMENTS
from exercises.music.musicxml_in import read_musicxml
from exercises.music.musicxml_out import score_to_musicxml
from exercises.music.notation import format_notation, parse_notation
from exercises.music.part import make_part
from exercises.music.score import FOUR_FOUR
from exercises.music.uploads import read_upload
from tests.music.test_notation import lines

HEAD = (
    "<attributes><divisions>2</divisions><key><fifths>-2</fifths></key>"
    "<time><beats>4</beats><beat-type>4</beat-type></time></attributes>"
)


def note(step="B", octave=4, duration=2, *, alter=None, more="", before=""):
    alter = f"<alter>{alter}</alter>" if alter is not None else ""
    pitch = f"<pitch><step>{step}</step>{alter}<octave>{octave}</octave></pitch>"
    return f"<note>{before}{pitch}<duration>{duration}</duration>{more}</note>"


REST = "<note><rest/><duration>8</duration></note>"


def file(*bars, head=HEAD):
    measures = "".join(
        f'<measure number="{number}">{head if number == 1 else ""}{bar}</measure>'
        for number, bar in enumerate(bars, 1)
    )
    return (
        '<?xml version="1.0"?><!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
        '"http://www.musicxml.org/dtds/partwise.dtd"><score-partwise version="4.0"><part-list>'
        f'<score-part id="P1"><part-name/></score-part></part-list><part id="P1">{measures}</part>'
        "</score-partwise>"
    ).encode()


def typed(text):
    return parse_notation(text, label="A", metre=FOUR_FOUR, fifths=-2)


def told(result):
    return [(problem.kind, problem.message) for problem in result.problems]


def text(result, place=0):
    return format_notation(result.lines[place])


def packed(data, *, name="music.xml", container=True, extra=()):
    box = io.BytesIO()
    with zipfile.ZipFile(box, "w", zipfile.ZIP_DEFLATED) as archive:
        if container:
            archive.writestr(
                "META-INF/container.xml",
                f'<container><rootfiles><rootfile full-path="{name}"/></rootfiles></container>',
            )
        archive.writestr(name, data)
        for other in extra:
            archive.writestr(other, b"x")
    return box.getvalue()


def test_plain_file_is_kept_note_by_note():
    four = note() + note("A") + note("G", alter=1) + note("A")
    result = read_musicxml(file('<sound tempo="72"/>' + four, REST))
    assert text(result) == "B4 A4 G#4 A4 | rest:4"
    assert result.lines[0].fifths == -2
    assert result.tempo == 72
    assert result.problems == ()


def test_name_means_the_alter_of_the_file_not_its_key():
    result = read_musicxml(file(note("B", duration=8)))
    assert text(result) == "B4:4"


def test_compressed_file_is_the_same():
    data = file(note("B", alter=-1, duration=8))
    assert read_musicxml(packed(data)) == read_musicxml(data)
    assert read_musicxml(packed(data, container=False)) == read_musicxml(data)
    assert read_upload(packed(data)) == read_musicxml(data)


def test_file_ordered_by_measure_is_the_same():
    data = file(note("C", duration=8), note("D", duration=8)).decode()
    timewise = (
        data.replace("score-partwise", "score-timewise").replace('<part id="P1">', "").replace("</part>", "")
    )
    for number in ("1", "2"):
        timewise = timewise.replace(
            f'<measure number="{number}">', f'<measure number="{number}"><part id="P1">'
        )
    timewise = timewise.replace("</measure>", "</part></measure>")
    assert read_musicxml(timewise.encode()) == read_musicxml(data.encode())


@pytest.mark.parametrize(
    ("bar", "kept", "kind", "message"),
    [
        (
            note("C") + note("E", before="<chord/>") + note("D") + note("E", duration=4),
            "E4 D4 E4:2",
            ProblemKind.CHORD,
            "Bar 1, beat 1: a note under the highest of a chord is left out.",
        ),
        (
            note("C", duration=4)
            + "".join(note(step, duration="1.3333333", more="<time-modification/>") for step in "DEF"),
            "C4:2 rest",
            ProblemKind.TUPLET,
            "Bar 1, beat 3: a tuplet (such as a triplet). A rest of 2 beats takes its place.",
        ),
        (
            "<note><grace/><pitch><step>D</step><octave>4</octave></pitch></note>" + note("C", duration=8),
            "C4:4",
            ProblemKind.GRACE,
            "Bar 1, beat 1: a grace note is left out.",
        ),
        (
            note("C", duration=4, more="<lyric><text>la</text></lyric>")
            + note("D", duration=4, more="<lyric><text>la</text></lyric>"),
            "C4:2 D4",
            ProblemKind.LYRICS,
            "Bar 1, beat 1: a syllable of lyrics (and 1 more after it) is left out.",
        ),
        (
            note("C", duration=8, more="<voice>1</voice>")
            + "<backup><duration>8</duration></backup>"
            + note("E", duration=8, more="<voice>2</voice>"),
            "C4:4",
            ProblemKind.VOICES,
            "Bar 1, beat 1: a second voice or staff. Only the first is kept.",
        ),
        (
            note("C", duration=8) + note("E", duration=2),
            "C4:4",
            ProblemKind.BAR_SUM,
            "Bar 1: it has 5 beats, but 4/4 needs 4 beats. What goes beyond (1 beat) is left out.",
        ),
        (
            note("C", duration=8, more='<notations><slur type="start"/></notations>'),
            "C4:4",
            ProblemKind.MARKS,
            "Bar 1, beat 1: a slur is left out.",
        ),
        (
            note("C", duration=8) + '<barline><repeat direction="backward"/></barline>',
            "C4:4",
            ProblemKind.REPEAT,
            "Bar 1: a repeat or ending sign is left out.",
        ),
        (
            note("C", alter="0.5", duration=8),
            "C4:4",
            ProblemKind.MICROTONE,
            "Bar 1, beat 1: the quarter tone of a note is left out.",
        ),
        (
            note("C", duration=4, more='<tie type="start"/>') + note("D", duration=4),
            "C4:2 D4",
            ProblemKind.TIE,
            "Bar 1, beat 1: a tie that does not lead to the same note is left out.",
        ),
        (
            note("C", duration=2) + "<note><unpitched/><duration>2</duration></note>" + note("D", duration=4),
            "C4 rest D4:2",
            ProblemKind.PERCUSSION,
            "Bar 1, beat 2: a drum stroke is left out.",
        ),
        (
            note("C", duration="7.75") + note("D", duration="0.25"),
            "rest:4",
            ProblemKind.LENGTH,
            "Bar 1, beat 1: a note length that cannot be printed here. A rest of 4 beats takes its place.",
        ),
    ],
)
def test_what_has_no_place_is_named_with_bar_and_beat(bar, kept, kind, message):
    result = read_musicxml(file(bar, note("G", duration=8)))
    assert result.lines[0].bars == typed(f"{kept} | G4:4").bars
    assert told(result) == [(kind, message)]


def test_short_bar_is_filled_and_named():
    result = read_musicxml(file(note(duration=8), note("C", duration=6), note(duration=8)))
    assert text(result) == "B4:4 | C4:3 rest:1 | B4:4"
    assert told(result) == [
        (
            ProblemKind.BAR_SUM,
            "Bar 2: it has 3 beats, but 4/4 needs 4 beats. A rest of 1 beat is added at its end.",
        )
    ]


def test_short_first_bar_is_a_pickup_and_its_problems_say_bar_nought():
    pickup = note("F", more="<lyric><text>Oh</text></lyric>")
    result = read_musicxml(file(pickup, note(duration=8), note(duration=6)))
    assert text(result) == "pickup F4 | B4:4 | B4:3"
    assert [problem.bar for problem in result.problems] == [0]
    assert result.problems[0].message == "Bar 0, beat 4: a syllable of lyrics is left out."


def test_length_without_a_sign_of_its_own_becomes_tied_notes():
    result = read_musicxml(file(note("C", duration=5) + note("D", duration=3)))
    assert text(result) == "C4:2~ C4:0.5 D4:1.5"
    assert result.problems == ()


def test_place_that_the_file_skips_is_a_rest():
    bar = note("C") + "<forward><duration>2</duration></forward>" + note("D", duration=4)
    assert text(read_musicxml(file(bar))) == "C4 rest D4:2"


def test_key_change_keeps_the_notes_and_is_named():
    change = "<attributes><key><fifths>1</fifths></key></attributes>"
    result = read_musicxml(file(note(duration=8), change + note("F", alter=1, duration=8)))
    assert text(result) == "B4:4 | F#4"
    assert [problem.bar for problem in result.problems] == [2]
    assert result.problems[0].kind is ProblemKind.KEY_CHANGE


def test_change_of_metre_is_refused_with_its_bar():
    change = "<attributes><time><beats>3</beats><beat-type>4</beat-type></time></attributes>"
    with pytest.raises(MusicError, match="The metre changes to 3/4 in bar 2"):
        read_musicxml(file(note(duration=8), change + note(duration=6)))


def test_part_written_for_an_instrument_comes_in_at_concert_pitch():
    data = file(note("G", duration=8), head=HEAD.replace("-2", "1"))
    result = read_musicxml(data, written_for="alto_sax")
    assert (text(result), result.lines[0].fifths) == ("Bb3:4", -2)


def test_part_that_names_its_own_transposition_comes_in_at_concert_pitch_and_says_so():
    transpose = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>"
    head = HEAD.replace("</attributes>", transpose).replace("-2</fifths>", "0</fifths>")
    result = read_musicxml(file(note("C", duration=8), head=head))
    assert (text(result), result.lines[0].fifths) == ("Bb3:4", -2)
    assert [problem.kind for problem in result.problems] == [ProblemKind.TRANSPOSED]


@pytest.mark.parametrize("instrument_id", [one for one, player in INSTRUMENTS.items() if player.pitched])
def test_our_own_file_of_every_instrument_reads_back(instrument_id):
    line = parse_notation("Bb3:1 C F#~ F# | D4:3 rest:1", label="A", metre=FOUR_FOUR, fifths=-2)
    part = make_part(line, instrument_id, octave=0)
    data = score_to_musicxml([[part]], title="x", tempos=[72]).encode()
    assert read_musicxml(data, written_for=instrument_id).lines == (line,)
    assert read_musicxml(data).lines == (line,)


@given(lines())
@settings(max_examples=40)
def test_any_line_survives_writing_and_reading(line):
    data = score_to_musicxml([[make_part(line, "flute", octave=0, key_limit=7)]], title="x", tempos=[72])
    assert read_musicxml(data.encode()).lines == (make_part(line, "flute", octave=0, key_limit=7).line,)


def test_music21_writes_what_we_read():
    """music21 10.5 as the writer: pitches, lengths and key as it was told."""
    part = music21.converter.parse("tinynotation: 4/4 B-2 A G#4 A f#8 g a4~ a2")
    part.insert(0, music21.key.KeySignature(-2))
    data = music21.musicxml.m21ToXml.GeneralObjectExporter(part).parse()
    line = read_musicxml(data).lines[0]
    ours, theirs = [note for note in line.notes if note.pitch], list(part.flatten().notes)
    assert [note.pitch.name.replace("b", "-") for note in ours] == [n.nameWithOctave for n in theirs]
    assert [note.beats for note in ours] == [Fraction(n.quarterLength) for n in theirs]
    assert [note.tied for note in ours] == [bool(n.tie and n.tie.type == "start") for n in theirs]
    assert line.fifths == -2


def test_several_parts_become_lines_in_order():
    one = file(note("C", duration=8)).decode()
    two = one.replace(
        "</part></score",
        '</part><part id="P2"><measure number="1">'
        + HEAD
        + note("D", duration=8)
        + "</measure></part></score",
    )
    result = read_musicxml(two.encode())
    assert [(line.label, line.notes[0].pitch.name) for line in result.lines] == [("A", "C4"), ("B", "D4")]


BILLION = (
    b'<?xml version="1.0"?><!DOCTYPE score-partwise [<!ENTITY a "aaaaaaaaaa">'
    + b"".join(b'<!ENTITY a%d "%s">' % (n, b"&a%d;" % (n - 1) * 10 if n else b"&a;" * 10) for n in range(9))
    + b"]><score-partwise>&a8;</score-partwise>"
)


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"<score-partwise",
        b"<html></html>",
        b"\x00\x01\x02",
        b"PK\x03\x04rubbish",
        b"<score-partwise/>",
        file(note("H")),
        file(note(octave="x")),
        file(note(duration="1e999999")),
        file(note(duration="-2")),
        file(note(duration=8), head=HEAD.replace("<beats>4", "<beats>3+2")),
        file(note(duration=8), head=HEAD.replace("-2", "900")),
        file(REST),
        BILLION,
        BILLION.decode().replace('version="1.0"', 'version="1.0" encoding="UTF-16"').encode("utf-16"),
        b'<!DOCTYPE s [<!ENTITY x SYSTEM "file:///etc/passwd">]><score-partwise>&x;</score-partwise>',
        b"x" * (MOST_BYTES + 1),
        packed(b"<score-partwise/>" + b" " * 9_000_000),
        packed(file(REST), extra=[f"f{n}" for n in range(60)]),
        packed(file(REST), name="../../etc/passwd"),
    ],
)
def test_bad_file_is_refused_in_one_sentence(data):
    with pytest.raises(MusicError) as raised:
        read_musicxml(data)
    assert raised.value.message.count(".") <= 3
    assert len(raised.value.message) < 160


def test_compressed_file_that_lies_about_its_size_is_refused():
    data = bytearray(packed(b"<score-partwise/>" + b" " * 9_000_000))
    central = data.rfind(b"PK\x01\x02")
    data[central + 24 : central + 28] = (10).to_bytes(4, "little")
    with pytest.raises(MusicError):
        read_musicxml(bytes(data))


def test_text_file_is_told_apart_from_music():
    with pytest.raises(MusicError, match="not MusicXML, MIDI or ABC"):
        read_upload(b"Dear diary")
