"""The shelf as a drawing: a form of its own for each verdict, no styles, never a mark on a note head.

Read back with lxml, which had no part in writing it.
"""

from itertools import pairwise
from typing import Any

import pytest
from lxml import etree

from submissions.grading.shelf.drawing import LANE, TakeSound, depth, overlay
from submissions.grading.shelf.notes import shelf_of, written_notes
from submissions.grading.shelf.places import beat_at, moments, trays
from submissions.grading.timing import Source, TimeMap
from submissions.listening.evidence import Evidence
from tests.submissions.grading.evidence import NOT_HEARD, ear, evidence, late, other, unsure
from tests.submissions.grading.places import engraving

NOTES = written_notes(engraving().notes, semitones_to_sounding=-2)
TIMES = TimeMap(((0.0, 1.0), (16.0, 17.0)), Source.COUNTED)
SOUND = TakeSound(peaks=[50] * 180, seconds=18.0, times=TIMES)


def drawn(
    slips: dict[int, Any] | None = None,
    *,
    overruled: dict[str, str] | None = None,
    sound: TakeSound | None = SOUND,
    now: int | None = None,
) -> etree._Element:
    shelf = shelf_of(
        notes=NOTES,
        evidence=Evidence.from_json(
            evidence(
                sounding=[note.sounding_midi for note in NOTES],
                starts=[float(note.start) for note in NOTES],
                slips=slips,
            )
        ),
        ear=ear(overruled),
    )
    return etree.fromstring(
        overlay(engraving(), notes=NOTES, shelf=shelf, sound=sound, now=now, scale_words=True)
    )


def boxes(drawing: etree._Element, kind: str) -> list[tuple[float, float]]:
    """Left edge and top of everything of a class."""
    return [
        (float(box.get("x")), float(box.get("y")))
        for box in drawing.iter("rect")
        if kind in (box.get("class") or "").split()
    ]


def words(drawing: etree._Element) -> list[str]:
    return [text.text or "" for text in drawing.iter("text") if text.get("class") is None]


def test_every_note_has_a_tray_and_a_held_note_one_on_each_system():
    assert [(t.number, t.system, t.begins) for t in trays(engraving(), NOTES)] == [
        (0, 0, True),
        (1, 0, True),
        (2, 0, True),
        (3, 0, True),
        (3, 1, False),
        (4, 1, True),
        (5, 1, True),
    ]


def test_trays_stand_under_their_note_heads_and_never_overlap():
    by_system: dict[int, list[Any]] = {}
    for tray in trays(engraving(), NOTES):
        by_system.setdefault(tray.system, []).append(tray)
        head = engraving().notes[NOTES[tray.number].first if tray.begins else NOTES[tray.number].last].x
        assert tray.left < head < tray.right
    for row in by_system.values():
        assert all(a.right < b.left for a, b in pairwise(row))


def test_all_as_written_is_one_solid_bar_a_tray_and_no_word():
    drawing = drawn()
    solid = boxes(drawing, "shelf__heard")
    assert len(solid) == 7
    assert solid == boxes(drawing, "shelf__tray")
    assert words(drawing) == []


@pytest.mark.parametrize(("steps", "lanes", "word"), [(1, 1, "+1"), (-2, -2, "−2"), (7, 2, "+7")])
def test_another_pitch_is_hatched_in_its_lane_and_numbered(steps: int, lanes: int, word: str):
    drawing = drawn({1: other(steps)})
    [(x, y)] = boxes(drawing, "shelf__heard--off")
    tray_x, tray_y = boxes(drawing, "shelf__tray")[1]
    assert (x, y) == (tray_x, pytest.approx(tray_y - lanes * LANE))
    assert words(drawing) == [word]


def test_not_heard_is_a_dashed_empty_tray():
    drawing = drawn({1: NOT_HEARD})
    assert len(boxes(drawing, "shelf__tray--empty")) == 1
    assert len(boxes(drawing, "shelf__heard")) == 6
    assert words(drawing) == ["none"]  # "not heard" is wider than a half note here


def test_unsure_is_dotted_and_asks_for_an_ear():
    drawing = drawn({5: unsure()})
    assert len(boxes(drawing, "shelf__heard--unsure")) == 1
    assert words(drawing) == ["unsure"]


@pytest.mark.parametrize(("beats", "way", "word"), [(0.5, 1, "late"), (-0.5, -1, "early")])
def test_late_and_early_stand_off_their_tray_with_an_arrow(beats: float, way: int, word: str):
    drawing = drawn({5: late(beats)})
    assert (boxes(drawing, "shelf__heard")[6][0] - boxes(drawing, "shelf__tray")[6][0]) * way > 0
    assert len([p for p in drawing.iter("path") if p.get("class") == "shelf__shift"]) == 1
    assert words(drawing) == [word]


def test_one_word_stands_over_a_run_of_notes_that_share_it():
    assert words(drawn({0: NOT_HEARD, 1: NOT_HEARD, 2: NOT_HEARD})) == ["not heard"]


def test_what_the_ear_overruled_stays_to_be_seen():
    drawing = drawn({1: other(1)}, overruled={"1": "as_written"})
    assert boxes(drawing, "shelf__heard--off") == []
    [(_, was)] = boxes(drawing, "shelf__was")
    assert was == pytest.approx(boxes(drawing, "shelf__tray")[1][1] - LANE)
    assert words(drawing) == ["ear"]


def test_the_light_falls_on_every_tray_of_the_note():
    assert len(boxes(drawn(now=3), "shelf__now")) == 2
    assert boxes(drawn(), "shelf__now") == []


def test_each_note_can_be_pressed_and_knows_when_it_sounds():
    hits = [hit for hit in drawn().iter("rect") if hit.get("class") == "shelf__hit"]
    assert [(h.get("data-note"), h.get("data-bar")) for h in hits] == [
        ("0", "1"), ("1", "1"), ("2", "2"), ("3", "2"), ("3", "2"), ("4", "3"), ("5", "4"),
    ]  # fmt: skip
    # invented onsets: one second, then 72 beats a minute
    assert [float(h.get("data-at")) for h in hits[:3]] == [1.0, pytest.approx(2.667), pytest.approx(4.333)]


def test_the_sound_is_bent_so_that_it_stands_under_its_note():
    peaks = [0] * 30 + [100] * 20 + [0] * 130  # loud from second 3 to 5: beats 2 to 4, the note B
    drawing = drawn(sound=TakeSound(peaks=peaks, seconds=18.0, times=TIMES))
    sound = next(p for p in drawing.iter("path") if p.get("class") == "shelf__sound")
    strokes = [part.split("v") for part in (sound.get("d") or "").split("M")[1:]]
    loud = [float(place.split()[0]) for place, height in strokes if float(height) > 10]
    assert min(loud) >= engraving().notes[1].x - 3
    assert max(loud) <= engraving().bars[0].right + 3
    assert len(loud) > 5


def test_places_follow_the_written_beats_over_bar_lines_and_systems():
    found = moments(engraving())
    assert [m.beat for m in found] == sorted(m.beat for m in found)
    assert (found[-1].beat, found[-1].x) == (16.0, 280.0)
    assert beat_at(found, 120, 0) == 2.0
    assert beat_at(found, 90, 0) == 1.0
    assert beat_at(found, 215, 0) == pytest.approx(5 + 1 / 6)
    assert beat_at(found, 5, 0) is None
    assert beat_at(found, 290, 1) is None


def test_without_a_take_nothing_sounds_and_nothing_plays():
    drawing = drawn(sound=None)
    assert drawing.get("data-times") is None
    assert all(hit.get("data-at") is None for hit in drawing.iter("rect"))
    assert not [p for p in drawing.iter("path") if p.get("class") in {"shelf__sound", "shelf__play"}]


def test_without_evidence_there_is_the_sound_alone():
    drawing = etree.fromstring(overlay(engraving(), notes=NOTES, sound=SOUND))
    assert boxes(drawing, "shelf__tray") == []
    assert [p.get("class") for p in drawing.iter("path")].count("shelf__sound") == 2
    assert depth(shelf=False, sound=True) < depth(shelf=True, sound=True)
    assert depth(shelf=False, sound=False) == 0


def test_the_drawing_holds_no_style_script_or_handler():
    for element in drawn({1: other(1), 2: NOT_HEARD, 5: unsure()}, now=1).iter():
        assert element.tag not in {"style", "script"}
        assert not [name for name in element.attrib if name == "style" or name.startswith("on")]
