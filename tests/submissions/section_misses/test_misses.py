"""Counting a section: how many missed what, the director's ear first, unsure never counted."""

from typing import Any

import pytest

from submissions.listening.evidence import Cause, Evidence
from submissions.section_misses.misses import misses_of
from submissions.section_misses.places import places_of, shared_misreading
from submissions.section_misses.words import headline, heard_so_far, in_words, title, tomorrow, why
from tests.submissions.grading.evidence import ear
from tests.submissions.section_misses.sections import (
    NOT_HEARD,
    heard,
    notes_of,
    other,
    section,
    unsure,
    written,
)

LINE = written("C4:1 D4 E4 F4 | G4:2 A4~ | A4:1 G4 F4 rest | C4:4 |")
NOTES = notes_of(LINE)


def count_takes(*takes: tuple[dict[str, Any], dict[str, str]]):
    typed = [(Evidence.from_json(heard), ear(decided)) for heard, decided in takes]
    return misses_of(notes=NOTES, takes=typed, semitones_to_sounding=0)


def test_rests_are_left_out_and_held_notes_are_one():
    assert [(note.number, note.first, note.last, note.name) for note in NOTES] == [
        (0, 0, 0, "C"), (1, 1, 1, "D"), (2, 2, 2, "E"), (3, 3, 3, "F"), (4, 4, 4, "G"), (5, 5, 6, "A"),
        (6, 7, 7, "G"), (7, 8, 8, "F"), (8, 10, 10, "C"),
    ]  # fmt: skip


def test_the_same_other_note_is_told_from_anything_else():
    _, counted = section(LINE, [{2: other(1)}] * 3 + [{2: other(-2)}, {2: NOT_HEARD}, {2: unsure()}, {}])
    misses = counted.notes[2]
    assert (misses.same, misses.played, misses.different, misses.not_heard, misses.unsure) == (3, 65, 1, 1, 1)
    assert misses.missed == 5
    assert counted.heard == 7


def test_one_players_other_note_is_shared_with_nobody():
    _, counted = section(LINE, [{2: other(1)}, {2: other(2)}, {}])
    misses = counted.notes[2]
    assert (misses.same, misses.played, misses.different, misses.missed) == (0, None, 2, 2)


def test_of_two_pitches_shared_alike_the_nearer_is_said():
    _, counted = section(LINE, [{2: other(5)}, {2: other(5)}, {2: other(-1)}, {2: other(-1)}])
    assert counted.notes[2].played == 63


def test_unsure_is_never_counted_as_missed():
    _, counted = section(LINE, [{2: unsure()}] * 5)
    assert (counted.notes[2].missed, counted.notes[2].unsure) == (0, 5)
    assert places_of(counted, line=LINE, notes=NOTES) == ()
    assert in_words(counted.notes[2], line=LINE) == (
        "Bar 1, beat 3, E: nobody surely missed it; 5 unsure, please listen."
    )


@pytest.mark.parametrize(
    ("slip", "ear", "counts"),
    [
        (other(1), "as_written", (0, 0, 0, 0)),
        (unsure(), "as_written", (0, 0, 0, 0)),
        (unsure(), "not_heard", (0, 0, 1, 0)),
        (other(1), "not_heard", (0, 0, 1, 0)),
        ({}, "other_pitch", (0, 1, 0, 0)),
        (other(1), "other_pitch", (0, 1, 0, 0)),
    ],
)
def test_the_directors_ear_goes_before_the_evidence(slip: dict[str, Any], ear: str, counts: tuple[int, ...]):
    misses = count_takes((heard(NOTES, {2: slip}), {"2": ear})).notes[2]
    assert (misses.same, misses.different, misses.not_heard, misses.unsure) == counts


def test_another_pitch_by_ear_alone_has_no_name_to_share():
    takes = [(heard(NOTES, {}), {"2": "other_pitch"})] * 2
    misses = count_takes(*takes).notes[2]
    assert (misses.same, misses.different) == (0, 2)


@pytest.mark.parametrize(
    "take",
    [
        {"transposed_semitones": -2},
        {"quality": ["nobody_plays"]},
        {"quality": ["clipped", "only_speech"]},
        {"notes": []},
    ],
)
def test_what_cannot_be_compared_is_left_out_and_said(take: dict[str, Any]):
    counted = count_takes((heard(NOTES, {}), {}), (heard(NOTES, {2: other(1)}, **take), {}))
    assert (counted.heard, counted.left_out, counted.is_clean) == (1, 1, True)
    assert heard_so_far(counted, expected=4) == (
        "2 of 4 heard so far. 1 of these cannot be compared: another line, another part, or no playing in it."
    )


def test_a_noisy_take_is_compared():
    assert count_takes((heard(NOTES, {2: other(1)}, quality=["noisy"]), {})).notes[2].missed == 1


def test_another_line_is_left_out():
    off = {number: other(4) for number in range(6)}
    assert count_takes((heard(NOTES, off, other_line=True), {})).left_out == 1


def test_notes_after_a_stop_were_not_misread():
    """The listener calls a line of which little was played another line; broken off, it is still this one."""
    rest = dict.fromkeys(range(4, 9), NOT_HEARD)
    stopped = heard(NOTES, {1: other(1)} | rest, stopped_early=True, other_line=True)
    counted = count_takes((stopped, {}), (heard(NOTES, {}), {}))
    assert [misses.missed for misses in counted.notes] == [0, 1, 0, 0, 0, 0, 0, 0, 0]
    assert heard_so_far(counted, expected=2) == (
        "2 of 2 heard so far. 1 stopped before the end: the notes after that are not counted as missed."
    )


def test_a_last_note_that_the_ear_did_not_hear_is_missed_after_all():
    rest = dict.fromkeys(range(6, 9), NOT_HEARD)
    counted = count_takes((heard(NOTES, rest, stopped_early=True), {"8": "not_heard"}))
    assert [misses.missed for misses in counted.notes[5:]] == [0, 1, 1, 1]


def test_a_note_left_out_in_the_middle_is_missed():
    _, counted = section(LINE, [{2: NOT_HEARD}] * 2 + [{}])
    (place,) = places_of(counted, line=LINE, notes=NOTES)
    assert title(place, heard=3, line=LINE) == "Bar 1, beat 3: 2 of 3 not heard."


def test_the_three_most_shared_places_come_first_to_last():
    players = [{1: NOT_HEARD, 3: NOT_HEARD, 5: NOT_HEARD, 7: NOT_HEARD}] * 2
    players += [{5: NOT_HEARD, 7: NOT_HEARD}, {7: NOT_HEARD}, {0: NOT_HEARD}]
    _, counted = section(LINE, players)
    places = places_of(counted, line=LINE, notes=NOTES)
    assert [(place.rank, place.misses.note.number, place.misses.missed) for place in places] == [
        (1, 7, 4),
        (2, 5, 3),
        (3, 1, 2),
    ]


def test_of_places_missed_by_as_many_the_one_missed_alike_comes_first():
    _, counted = section(LINE, [{1: other(3), 4: other(1)}, {1: other(-3), 4: other(1)}])
    assert [place.misses.note.number for place in places_of(counted, line=LINE, notes=NOTES)] == [4, 1]


def test_one_players_slips_are_no_shared_place():
    _, counted = section(LINE, [{1: other(1), 3: NOT_HEARD}, {}, {}])
    assert places_of(counted, line=LINE, notes=NOTES) == ()
    assert headline(None, counted, line=LINE) == "No one misreading is shared so far."


def test_what_is_wrong_in_the_same_way_everywhere_is_one_place():
    line = written("B4:1 C5 B4 A4 | B4:2 E5 | C5:4 |", fifths=0)
    flats = {number: other(-1, "Bb4") for number in (0, 2, 4)}
    notes, counted = section(line, [flats] * 3 + [{5: NOT_HEARD}] * 2)
    first, second = places_of(counted, line=line, notes=notes)
    assert first.notes == (0, 2, 4)
    assert why(first, line=line) == (
        "Likely from habit: neither the key nor a sign on the page makes this B so. "
        "The same in bar 1, beat 3 and bar 2, beat 1."
    )
    assert (second.rank, second.notes) == (2, (5,))


def test_the_shared_misreading_counts_players_not_notes():
    line = written("Bb4:1 C5 Bb4 A4 | F#4:1 G4 F#4 G4 | C5:4 |", fifths=-1)
    forgot = {0: other(1), 2: other(1)}
    not_carried = {6: other(-1)}
    notes, counted = section(line, [forgot, not_carried, not_carried, not_carried, forgot])
    shared = shared_misreading(counted, line=line, notes=notes)
    assert shared is not None
    assert (shared.cause, shared.players, shared.bar) == (Cause.SIGN_NOT_CARRIED, 3, 2)


@pytest.mark.parametrize(
    ("players", "said"),
    [
        (1, "The one player heard so far played every note as written."),
        (5, "All 5 heard so far played every note as written."),
    ],
)
def test_a_section_that_missed_nothing_is_told_so(players: int, said: str):
    _, counted = section(LINE, [{}] * players)
    assert headline(None, counted, line=LINE) == said


def test_every_tick_stands_in_words():
    _, counted = section(LINE, [{2: other(1)}] * 3 + [{2: other(-2)}, {2: NOT_HEARD}, {2: unsure()}])
    assert in_words(counted.notes[2], line=LINE) == (
        "Bar 1, beat 3, E: 5 missed it (3 the same other note, 1 something else, 1 not heard); "
        "1 unsure, please listen."
    )


def test_a_drum_has_strokes_and_no_pitches():
    notes = tuple(
        type(note)(note.number, note.first, note.last, note.ref, None, note.reading) for note in NOTES
    )
    takes = [(Evidence.from_json(heard(notes, {2: NOT_HEARD})), {})] * 2
    counted = misses_of(notes=notes, takes=takes, semitones_to_sounding=0)
    (place,) = places_of(counted, line=LINE, notes=notes)
    assert title(place, heard=2, line=LINE) == "Bar 1, beat 3: 2 of 2 not heard."
    assert tomorrow(place) == "count bar 1 aloud, then play it with a clear start on the stroke."
