"""The drawing: right places, nothing that a strict page would block, and the three traps of the engraver."""

import re
import threading
from itertools import pairwise

import pytest
from lxml import etree

from exercises.music import engraver
from exercises.music.engraved_page import STAFF_SPACE
from exercises.music.engraving import Engraving, engrave, line_svg
from exercises.music.errors import MusicError
from exercises.music.instruments import INSTRUMENTS
from exercises.music.musicxml_out import part_to_musicxml, score_to_musicxml, system_starts
from exercises.music.notation import parse_notation
from exercises.music.part import make_part, make_parts
from exercises.music.score import FOUR_FOUR, Metre
from tests.music.page_reader import read_midi
from tests.music.xsd import faults

LINE_A = "Bb3:2 A | G Ab | G A | C4 F3 | G F# | F G | A C4 | Bb3:4"
LINE_B = "Bb3:1 A G A | G Ab A Ab | G F# G F# | F:2 F#~ | F#:1 F G rest | Eb E F Eb | D C4 A F | Bb3:4"
CROWDED = (
    "Bb3:1/2 C D Eb F G A Bb | A#:1/4 B C5 C#5 Bb4:1/2 A:1/2 G:1/4 F# G G# F:1/2 Eb:1/2 | rest:4 "
    "| D4:1.5 C:1/2 Bb3:3/4 C4:1/4 rest:1"
)


def line(text=LINE_B, *, fifths=-2, metre=FOUR_FOUR, label="B"):
    return parse_notation(text, label=label, metre=metre, fifths=fifths)


def drawn(instrument_id="alto_sax", *, text=LINE_B, prefix="p", width_px=1200, bars_per_system=8, **more):
    part = make_part(line(text), instrument_id)
    return engrave(part, prefix=prefix, width_px=width_px, bars_per_system=bars_per_system, **more)


def test_nothing_in_the_drawing_needs_what_a_strict_page_forbids():
    svg = line_svg(drawn(), label="Line B")
    assert "<style" not in svg
    assert " style=" not in svg
    assert "<text" not in svg
    assert "<script" not in svg
    assert not re.search(r"\bon\w+=", svg)
    assert not re.search(r'(href|src)="(?!#p-)', svg)


def test_staff_lines_carry_their_stroke_themselves():
    root = etree.fromstring(line_svg(drawn(), label="Line B").encode())
    staff = next(g for g in root.iter("{*}g") if g.get("class") == "staff")
    lines = staff.findall("{*}path")
    assert len(lines) == 5
    assert {path.get("stroke") for path in lines} == {"currentColor"}


def test_ids_begin_with_the_prefix_and_are_unique_on_a_page():
    page = "".join(line_svg(drawn(prefix=prefix), label="x") for prefix in ("a1", "b2"))
    ids = re.findall(r' id="([^"]*)"', page)
    assert all(ident.startswith(("a1-", "b2-")) for ident in ids)
    assert len(ids) == len(set(ids))
    assert set(re.findall(r'href="#([^"]*)"', page)) <= set(ids)


@pytest.mark.parametrize("prefix", ["", "1a", 'a"', "a b", "é", "a" * 80])
def test_prefix_must_be_a_plain_name(prefix):
    with pytest.raises(MusicError, match="cannot begin an id"):
        drawn(prefix=prefix)


@pytest.mark.parametrize(("width", "bars"), [(100, 2), (9000, 2), (360, 0)])
def test_widths_and_bars_that_make_no_page_are_refused(width, bars):
    with pytest.raises(MusicError):
        drawn(width_px=width, bars_per_system=bars)


@pytest.mark.parametrize(("bars_per_system", "systems"), [(8, 1), (4, 2), (3, 3), (2, 4), (1, 8)])
def test_system_count_is_what_was_asked_for(bars_per_system, systems):
    engraving = drawn(width_px=900, bars_per_system=bars_per_system)
    assert len(engraving.systems) == systems
    assert [bar.system for bar in engraving.bars] == sorted(bar.system for bar in engraving.bars)


def test_systems_are_as_even_as_they_can_be():
    assert system_starts(8, 3) == (0, 3, 6)
    assert system_starts(5, 4) == (0, 3)
    assert system_starts(16, 4) == (0, 4, 8, 12)
    assert system_starts(1, 4) == (0,)


def test_crowded_bars_take_fewer_to_a_system_rather_than_touch():
    engraving = drawn(text=CROWDED, width_px=344, bars_per_system=4)
    assert len(engraving.systems) == 4
    assert read_midi(line_svg(engraving, label="x"))


def test_sign_tucked_over_a_far_lower_note_is_no_crowd():
    engraving = drawn(
        "flute", text="rest:4 | rest | rest | B3:1.5 B3:1/2 Db5:2", width_px=600, bars_per_system=3
    )
    assert len(engraving.systems) == 2


def test_bar_that_cannot_be_read_at_this_width_is_refused():
    with pytest.raises(MusicError, match="make the page wider"):
        drawn(text="A3:1/4 A# B C4 C# D D# E F F# G G# A A# B C5", width_px=200, bars_per_system=1)


def test_every_note_has_its_place():
    part = make_part(line(), "alto_sax")
    engraving = engrave(part, prefix="p", width_px=1200, bars_per_system=8)
    root = etree.fromstring(line_svg(engraving, label="x").encode())
    assert len(engraving.notes) == len(part.line.notes)
    for place, note in zip(engraving.notes, part.line.notes, strict=True):
        assert root.xpath(f'//*[@id="p-n{place.index}"]')
        assert place.is_rest == (note.pitch is None)
        assert place.midi_written == (note.pitch and note.pitch.midi)
    xs = [place.x for place in engraving.notes]
    assert xs == sorted(xs)
    assert 0 < xs[0] < xs[-1] < engraving.width
    tied = [place for place in engraving.notes if place.tie_in]
    assert [(place.bar, place.beat, place.words) for place in tied] == [(5, 1, "D sharp")]
    assert [place.name for place in engraving.notes[:4]] == ["G", "F♯", "E", "F♯"]


def test_y_of_a_note_falls_by_half_a_space_for_each_letter():
    engraving = drawn("flute", text="Bb4:1 A G F | E D C rest")
    ys = [place.y for place in engraving.notes if not place.is_rest]
    steps = {round(b - a, 1) for a, b in pairwise(ys)}
    staff = engraving.systems[0].bottom - engraving.systems[0].top
    assert steps == {round(staff / 8, 1)}
    assert STAFF_SPACE == 180


def test_whole_bar_rest_counts_from_the_beginning_of_its_bar():
    engraving = drawn(text="Bb3:4 | rest:4 | A3:4", width_px=900, bars_per_system=3)
    rest, bar = engraving.notes[1], engraving.bars[1]
    assert rest.is_rest
    assert bar.left < rest.x < bar.left + 0.2 * (bar.right - bar.left)


def test_bars_meet_and_systems_do_not_overlap():
    engraving = drawn("tuba", width_px=360, bars_per_system=2)
    for left, right in pairwise(engraving.bars):
        if left.system == right.system:
            assert left.right == pytest.approx(right.left, abs=0.1)
    for upper, lower in pairwise(engraving.systems):
        assert upper.ink_bottom + 13 < lower.ink_top
        assert upper.ink_top <= upper.top < upper.bottom <= upper.ink_bottom
    assert engraving.systems[-1].ink_bottom == pytest.approx(engraving.height, abs=0.1)


def test_room_between_systems_can_be_asked_for():
    tight = drawn(width_px=360, bars_per_system=2)
    wide = drawn(width_px=360, bars_per_system=2, system_gap_px=60)
    assert wide.height == pytest.approx(tight.height + 3 * (60 - 14), abs=0.1)


def test_names_get_their_room_by_fewer_bars_on_a_system():
    """Eight eighths in a bar on a phone: at two bars a system "B♭" and "A♭" would run into each other."""
    text = "Bb3:0.5 Ab3 A3 Ab3 G3 Ab3 A3 Bb3 | Bb3 A3 Bb3 B3 C4 B3 Bb3 A3"
    phone = {"text": text, "width_px": 342, "bars_per_system": 2}

    def closest(engraving):
        pairs = pairwise(engraving.notes)
        return min(right.x - left.x for left, right in pairs if left.system == right.system)

    close, roomy = drawn("flute", **phone), drawn("flute", **phone, note_gap_px=20)
    assert (len(close.systems), len(roomy.systems)) == (1, 2)
    assert closest(close) < 20 <= closest(roomy)
    # room that no page has is not asked of it
    assert len(drawn("flute", **phone, note_gap_px=200).systems) == 1


def test_cached_form_gives_the_engraving_back():
    engraving = drawn()
    assert Engraving.from_json(engraving.to_json()) == engraving


def test_same_part_is_drawn_the_same_twice():
    assert drawn() == drawn()


def test_wrapper_escapes_its_label_and_crops_to_bars():
    engraving = drawn()
    svg = line_svg(engraving, label='Line "B" <b>', overlay="<g/>", first_bar=1, last_bar=1, role="group")
    assert 'aria-label="Line &quot;B&quot; &lt;b&gt;"' in svg
    assert 'role="group"' in svg
    left, _, width, _ = map(float, re.search(r'viewBox="([^"]*)"', svg)[1].split())
    assert left == pytest.approx(engraving.bars[1].left, abs=0.01)
    assert width == pytest.approx(engraving.bars[1].right - engraving.bars[1].left, abs=0.01)
    with pytest.raises(MusicError):
        line_svg(drawn(width_px=360, bars_per_system=2), label="x", first_bar=1, last_bar=2)


def test_any_thread_engraves_the_same():
    """The engraver's resource path belongs to a thread: without care only the importing thread works."""
    expected, found = drawn(), []
    threads = [threading.Thread(target=lambda: found.append(drawn())) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == [expected] * 4


@pytest.mark.parametrize(
    "text",
    [
        "",
        "hello",
        "<html><body/></html>",
        "<score-partwise version='4.0'><part-list/></score-partwise>",
        "<score-partwise version='3.1'><part id='p'><measure><note/></measure></part></score-partwise>",
        "<score-partwise version='4.0'><part id='p'><measure><note/></measure>",
    ],
)
def test_what_is_no_music_never_reaches_the_engraver(text, monkeypatch):
    """The engraver says that broken text loaded well; so nothing may be loaded unchecked."""
    monkeypatch.setattr(engraver, "toolkit", lambda: pytest.fail("was loaded"))
    with pytest.raises(MusicError):
        engraver.draw(text, width_px=600, scale=40, last_justified_from=0.8)


@pytest.mark.parametrize("instrument_id", INSTRUMENTS)
def test_written_musicxml_is_valid_and_reads_back_from_the_page(instrument_id):
    """Schema: MusicXML 4.0 of W3C."""
    for text in (LINE_A, LINE_B, CROWDED):
        part = make_part(line(text), instrument_id)
        assert faults(part_to_musicxml(part, prefix="p", tempo=72, bars_per_system=3)) == []
        if part.instrument.pitched:
            engraving = engrave(part, prefix="p", width_px=500, bars_per_system=2)
            intended = [note.pitch.midi for note in part.line.notes if note.pitch]
            assert read_midi(line_svg(engraving, label="x")) == intended


@pytest.mark.parametrize("metre", ["2/4", "3/4", "2/2", "6/8", "3/8"])
def test_other_metres_are_valid_and_engraved(metre):
    quarters = Metre.parse(metre).quarters
    bar = " ".join(f"{letter}:1/2" for letter in "CDEFGABC"[: int(quarters * 2)]).replace("C", "C4", 1)
    part = make_part(line(f"{bar} | {bar}", metre=Metre.parse(metre), fifths=0), "horn")
    assert faults(part_to_musicxml(part, prefix="p", tempo=72)) == []
    assert len(engrave(part, prefix="p", width_px=800, bars_per_system=2).bars) == 2


def test_pickup_bar_is_bar_nought():
    part = make_part(line("pickup F4:1 | Bb3:4 | C4:3"), "clarinet")
    xml = part_to_musicxml(part, prefix="p", tempo=72)
    assert faults(xml) == []
    assert '<measure number="0" implicit="yes"' in xml
    engraving = engrave(part, prefix="p", width_px=800, bars_per_system=4)
    assert [bar.bar for bar in engraving.bars] == [0, 1, 2]
    assert engraving.notes[0].beat == 4


def test_whole_score_is_valid_and_its_words_are_escaped():
    lines = [line(LINE_A, label="A"), line(LINE_B)]
    xml = score_to_musicxml(
        [make_parts(lines, one) for one in INSTRUMENTS], title='Side & <steps> "3" \x00', tempos=[72, 80]
    )
    assert faults(xml) == []
    assert "Side &amp; &lt;steps&gt; &quot;3&quot; </work-title>" in xml
