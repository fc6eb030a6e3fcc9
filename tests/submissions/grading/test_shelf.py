"""Evidence laid beside the notes, and the same in words. All evidence here is invented."""

from typing import Any

import pytest

from exercises.music.score import Metre
from submissions.grading.shelf import words as shelf_words
from submissions.grading.shelf.notes import Shelf, ear_needed, shelf_of, written_notes
from submissions.listening.evidence import Evidence, Verdict
from tests.submissions.grading.evidence import NOT_HEARD, ear, evidence, late, other, unsure
from tests.submissions.grading.places import engraving

FOUR = Metre(4, 4)
# a clarinet sounds a whole step lower than it reads
NOTES = written_notes(engraving().notes, semitones_to_sounding=-2)


def heard(slips: dict[int, Any] | None = None, overruled: dict[str, str] | None = None, **take: Any) -> Shelf:
    found = shelf_of(
        notes=NOTES,
        evidence=Evidence.from_json(
            evidence(
                sounding=[note.sounding_midi for note in NOTES],
                starts=[float(note.start) for note in NOTES],
                slips=slips,
                **take,
            )
        ),
        ear=ear(overruled),
    )
    assert found is not None
    return found


def test_rests_are_left_out_and_tied_notes_are_one():
    assert [(n.number, n.bar, n.name, float(n.beats)) for n in NOTES] == [
        (0, 1, "C", 2),
        (1, 1, "B", 2),
        (2, 2, "A", 2),
        (3, 2, "B♭", 3),
        (4, 3, "D", 2),
        (5, 4, "C", 4),
    ]
    assert (NOTES[3].first, NOTES[3].last) == (3, 4)
    assert NOTES[0].sounding_midi == 58


def test_all_as_written_is_said_in_one_sentence():
    shelf = heard()
    assert [note.is_plain for note in shelf.notes] == [True] * 6
    assert shelf_words.summary(shelf) == "All 6 as written."
    assert shelf.first_to_hear is None
    assert shelf_words.facts(shelf, FOUR, asked_bpm=72) == ()


@pytest.mark.parametrize(
    ("slip", "sentence"),
    [
        (other(1, "B4"), "Written B♭, heard B, one half step high."),
        (other(-2, "Ab4"), "Written B♭, heard A♭, two half steps low."),
        (other(12), "Written B♭, heard an octave high."),
        (NOT_HEARD, "Written B♭, not heard."),
        (late(0.5), "Written B♭, heard as written, half a beat late."),
        (late(-0.3), "Written B♭, heard as written, a quarter beat early."),
        (late(1.0), "Written B♭, heard as written, a beat late."),
        ({"held_share": 0.4}, "Written B♭, heard as written, held short."),
        (unsure("two notes run together."), "Written B♭, unsure, please listen: two notes run together."),
        (unsure(), "Written B♭, unsure, please listen."),
        (other(1) | late(0.5), "Written B♭, heard a pitch, one half step high, half a beat late."),
    ],
)
def test_each_note_has_its_sentence(slip: dict[str, Any], sentence: str):
    assert shelf_words.sentence(heard({3: slip}).notes[3]) == sentence


def test_a_shift_below_a_quarter_beat_is_not_called_late():
    assert heard({3: late(0.24)}).notes[3].timing == ""


def test_a_note_is_named_by_bar_and_count():
    assert shelf_words.place(heard().notes[3], FOUR) == "Bar 2, beat 3"


def test_several_notes_are_listed_and_a_run_is_said_at_once():
    shelf = heard({0: other(1, "C#4"), 1: late(0.5), 3: NOT_HEARD, 4: NOT_HEARD, 5: NOT_HEARD})
    worth = [note for note in shelf.notes if not note.is_plain]
    assert shelf_words.listing(worth, FOUR) == (
        "bar 1 beat 1 C heard as C♯",
        "bar 1 beat 3 late",
        "bar 2 beat 3 to bar 4 beat 1 not heard",
    )
    assert shelf_words.listing([worth[2], worth[4]], FOUR) == (
        "bar 2 beat 3 not heard",
        "bar 4 beat 1 not heard",
    )
    assert shelf_words.listing([], FOUR) == ()


def test_the_ear_stands_beside_the_evidence_and_never_over_it():
    note = heard({3: other(1, "B4")}, overruled={"3": "as_written"}).notes[3]
    assert (note.heard, note.ear, note.verdict, note.steps) == (
        Verdict.OTHER_PITCH,
        Verdict.AS_WRITTEN,
        Verdict.AS_WRITTEN,
        1,
    )
    assert shelf_words.sentence(note) == "Written B♭, heard B, one half step high. Your ear: as written."


def test_the_count_follows_the_ear():
    shelf = heard({3: other(1), 5: NOT_HEARD}, overruled={"3": "as_written"})
    assert shelf_words.summary(shelf) == "Five of 6 as written."


def test_an_unsure_note_comes_into_the_light_first_then_what_is_not_as_written():
    assert heard({1: other(1), 4: unsure()}).first_to_hear == 4
    assert heard({1: other(1), 4: NOT_HEARD}).first_to_hear == 1
    assert heard({4: unsure()}, overruled={"4": "not_heard"}).first_to_hear is None


def test_the_take_as_a_whole_is_told_in_sentences():
    shelf = heard(
        restarted=True,
        stopped_early=True,
        tempo_bpm=60.2,
        tuning_cents=-31.0,
        extra=[{"midi": 60, "onset_seconds": 3.0, "held_seconds": 0.2}],
        changes=[
            {"note": 3, "gap_ms": 180, "usual_gap_ms": 60},
            {"note": 1, "gap_ms": 70, "usual_gap_ms": 60},
            {"note": 40, "gap_ms": 900, "usual_gap_ms": 60},
        ],
    )
    assert shelf_words.facts(shelf, FOUR, asked_bpm=72) == (
        "Started again; the last try is shown.",
        "Stopped before the end.",
        "One extra note.",
        "Played at 60, asked for 72.",
        "The instrument is tuned about 31 cents flat.",
        "Bar 2, beat 3: the change took 180 ms, others about 60. See the fingering.",
    )


def test_an_earlier_try_stays_visible():
    shelf = heard(
        restarted=True,
        attempts=[
            {"first_note": 0, "last_note": 3, "onset_seconds": 0.9, "end_seconds": 66.2},
            {"first_note": 0, "last_note": 40, "onset_seconds": 1.0, "end_seconds": 2.0},
        ],
    )
    assert shelf_words.facts(shelf, FOUR, asked_bpm=72) == (
        "An earlier try, 0:00 to 1:06, went from bar 1 beat 1 to bar 2 beat 3.",
        "The last try is shown.",
    )


def test_a_wavering_beat_is_said():
    assert shelf_words.facts(heard(steadiness=0.09), FOUR, asked_bpm=72) == ()
    assert shelf_words.facts(heard(steadiness=0.16), FOUR, asked_bpm=72) == (
        "The beat wavers by about 0.2 of a beat.",
    )


def test_a_slip_on_another_instruments_part_counts_from_that_part():
    moved = {number: {"steps": -2} for number in range(4)} | {3: other(-1, "C#4")}
    shelf = heard(moved, transposed_semitones=-2)
    assert (shelf.notes[0].steps, shelf.notes[3].steps) == (0, 1)


def test_another_instruments_part_is_said_once():
    sentence = "Every note sounds 2 semitones above the part."
    shelf = heard(
        transposed_semitones=2,
        transposed_sentence=sentence,
        misreading={"cause": "other_instrument", "sentence": sentence, "notes": [0, 1]},
    )
    assert shelf_words.doubts(shelf) == (sentence,)


def test_a_tempo_is_compared_to_the_one_that_was_counted_off():
    shelf = heard(tempo_bpm=60.2)
    assert shelf_words.facts(shelf, FOUR, asked_bpm=72, counted_bpm=60) == ()
    assert shelf_words.facts(shelf, FOUR, asked_bpm=60, counted_bpm=72) == (
        "Played at 60, counted off at 72.",
    )


def test_doubts_come_before_any_note():
    shelf = heard(
        quality=["very_quiet", "something_new"],
        other_line=True,
        transposed_semitones=2,
        misreading={"cause": "key_forgotten", "sentence": "The flat of the key was left out.", "notes": [3]},
    )
    assert shelf_words.doubts(shelf) == (
        "The recording is very quiet.",
        "This sounds like another line of the exercise.",
        "Right written notes, but on another instrument’s part.",
        "The flat of the key was left out.",
    )
    assert shelf.explained == {3}


def test_unknown_stays_unknown():
    unknown = {"onset_seconds": None, "heard_midi": None, "beats_off": None, "held_share": None}
    note = heard({0: unsure() | unknown | {"beats_off": 0}}).notes[0]
    assert (note.steps, note.onset_seconds) == (None, None)


def test_a_drum_stroke_has_no_pitch_to_be_off():
    drum = written_notes(engraving().notes, semitones_to_sounding=0)[0]
    assert drum.sounding_midi == 60


def test_evidence_of_another_line_is_not_shown():
    assert shelf_of(notes=NOTES, evidence=Evidence.from_json({"notes": []}), ear={}) is None
    assert shelf_of(notes=NOTES, evidence=Evidence.from_json({}), ear={}) is None


def test_what_needs_an_ear_most_is_counted_without_the_part():
    two = evidence(sounding=[60, 62, 64], starts=[0, 1, 2], slips={0: unsure(), 2: unsure()})
    assert ear_needed(Evidence.from_json(two), {}) == 2
    assert ear_needed(Evidence.from_json(two), ear({"0": "as_written"})) == 1
    assert ear_needed(Evidence.from_json(two | {"quality": ["silent"]}), {}) == 5
    assert ear_needed(Evidence.from_json({}), {}) == 0
