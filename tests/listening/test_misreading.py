"""Why notes went wrong. The reading rules are standard notation: a sign lasts to the barline on its own line
or space, and the key signature holds in every octave."""

import math

import pytest

from submissions.listening.causes import explain
from submissions.listening.evidence import Cause
from submissions.listening.misreading import readings
from submissions.listening.score import Score
from submissions.listening.spelling import key_costs, name, printings, spell

SEMITONE = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def part(bars: str, *, fifths: int, chromatic: int = 0) -> Score:
    """Bars of quarter notes such as "Bb4 A4 G4 A4 | G4 Ab4 A4 Ab4"; every pitch as it should sound."""
    notes = []
    for bar, text in enumerate(bars.split("|")):
        for beat, word in enumerate(text.split()):
            letter, octave = word[0], int(word[-1])
            alter = {"": 0, "#": 1, "b": -1}[word[1:-1]]
            written = 12 * (octave + 1) + SEMITONE[letter] + alter
            notes.append(
                {
                    "midi": written + chromatic,
                    "start_beat": 4 * bar + beat,
                    "beats": 1,
                    "written": {
                        "letter": letter,
                        "alter": alter,
                        "octave": octave,
                        "bar": bar + 1,
                        "beat": beat + 1,
                    },
                }
            )
    return Score.from_json({"instrument": "flute", "notes": notes, "fifths": fifths})


def sounding(score: Score, cause: Cause) -> list[int]:
    return list(next(r.sounding for r in readings(score) if r.cause is cause))


B_FLAT = part("Bb4 C5 D5 Eb5 | D5 Eb5 C5 Bb4 | A4 Bb4 Eb5 D5 | C5 A4 Bb4 Bb4", fifths=-2)
SIGNS = part("F4 F#4 G4 F#4 | F4 G4 Ab4 Ab4 | G4 F#4 E4 F#4 | F4 F4 G4 F4", fifths=0)


def test_a_forgotten_key_plays_every_letter_natural():
    assert sounding(B_FLAT, Cause.KEY_FORGOTTEN) == [
        71, 72, 74, 76, 74, 76, 72, 71, 69, 71, 76, 74, 72, 69, 71, 71,
    ]  # fmt: skip


def test_the_last_flat_forgotten_keeps_the_first():
    assert sounding(B_FLAT, Cause.LAST_FLAT_FORGOTTEN) == [
        70, 72, 74, 76, 74, 76, 72, 70, 69, 70, 76, 74, 72, 69, 70, 70,
    ]  # fmt: skip


def test_a_sign_not_carried_holds_one_note():
    assert sounding(SIGNS, Cause.SIGN_NOT_CARRIED) == [
        65, 66, 67, 65, 65, 67, 68, 69, 67, 66, 64, 65, 65, 65, 67, 65,
    ]  # fmt: skip


def test_a_sign_carried_over_the_barline_reaches_the_next_bar():
    assert sounding(SIGNS, Cause.SIGN_CARRIED_OVER_BARLINE) == [
        65, 66, 67, 66, 66, 67, 68, 68, 67, 66, 64, 66, 66, 66, 67, 66,
    ]  # fmt: skip


KEPT_THROUGHOUT = [
    (B_FLAT, Cause.KEY_FORGOTTEN),
    (B_FLAT, Cause.LAST_FLAT_FORGOTTEN),
    (SIGNS, Cause.SIGN_NOT_CARRIED),
    (SIGNS, Cause.SIGN_CARRIED_OVER_BARLINE),
]


@pytest.mark.parametrize(("score", "cause"), KEPT_THROUGHOUT)
def test_a_reading_kept_throughout_is_named(score, cause):
    found = explain(score, sounding(score, cause))
    assert found.cause is cause
    assert found.notes == tuple(
        i for i, (a, b) in enumerate(zip(sounding(score, cause), score.midis, strict=True)) if a != b
    )


def test_the_sentence_says_where():
    found = explain(B_FLAT, sounding(B_FLAT, Cause.LAST_FLAT_FORGOTTEN))
    assert found.sentence == (
        "3 notes sound as if the key's last flat, E-flat, were not there, from bar 1, beat 4."
    )


def test_a_key_of_one_flat_is_forgotten_in_two_ways_and_both_are_said():
    score = part("F4 G4 A4 Bb4 | C5 Bb4 A4 G4 | F4 A4 G4 Bb4 | A4 G4 F4 F4", fifths=-1)
    found = explain(score, sounding(score, Cause.KEY_FORGOTTEN))
    assert {found.cause, found.other_possible} == {Cause.KEY_FORGOTTEN, Cause.LAST_FLAT_FORGOTTEN}
    assert found.sentence == (
        "3 notes sound as if the key signature were not there, from bar 1, beat 4; "
        "or as if the key's last flat, B-flat, were not there."
    )


def unprinted(score: Score) -> Score:
    """The same notes as they sound, and nothing of the page."""
    notes = [{"midi": n.midi, "start_beat": n.start_beat, "beats": n.beats} for n in score.notes]
    return Score.from_json({"instrument": score.instrument, "notes": notes})


@pytest.mark.parametrize(("score", "cause"), KEPT_THROUGHOUT)
def test_a_cause_is_named_where_only_the_sounding_pitches_are_known(score, cause):
    assert explain(unprinted(score), sounding(score, cause)).cause is cause


def test_a_sharp_and_a_flat_in_one_line_are_told_by_what_was_played_for_them():
    """F-sharp not carried sounds F, A-flat not carried sounds A: no one way to spell gives both."""
    score = part("G4 F#4 G4 F#4 | B4 Ab4 G4 Ab4 | C5 G4 E4 G4 | D4 E4 C4 C4", fifths=0)
    heard = [67, 66, 67, 65, 71, 68, 67, 69, 72, 67, 64, 67, 62, 64, 60, 60]
    found = explain(unprinted(score), heard)
    assert (found.cause, found.notes) == (Cause.SIGN_NOT_CARRIED, (3, 7))


def test_one_wrong_note_has_no_cause():
    heard = list(B_FLAT.midis)
    heard[0] += 1
    assert explain(B_FLAT, heard) is None


def test_unrelated_slips_have_no_cause():
    heard = list(B_FLAT.midis)
    for index, step in ((1, -2), (4, 2), (8, 3), (12, -1)):
        heard[index] += step
    assert explain(B_FLAT, heard) is None


def test_notes_that_were_not_heard_say_nothing():
    heard = sounding(B_FLAT, Cause.KEY_FORGOTTEN)
    heard[3] = heard[5] = None
    assert explain(B_FLAT, heard).cause is Cause.KEY_FORGOTTEN


@pytest.mark.parametrize(
    ("written", "fifths"),
    [
        ([70, 72, 74, 75, 77, 79, 81, 82], -2),
        ([60, 62, 64, 65, 67, 69, 71, 72], 0),
        ([67, 69, 71, 72, 74, 76, 78, 79], 1),
    ],
)
def test_a_scale_names_its_key(written, fifths):
    assert next(iter(key_costs(written))) == fifths


def test_the_chances_of_all_printings_make_one():
    found = printings(unprinted(B_FLAT))
    assert sum(math.exp(printing.log_chance) for printing in found) == pytest.approx(1.0)
    assert found[0].score.fifths == -2
    assert [note.midi for note in found[0].score.notes] == B_FLAT.midis
    assert all(note.written.midi == note.midi for note in found[0].score.notes)


def test_a_score_that_brings_its_page_is_printed_so_alone():
    assert [printing.score for printing in printings(B_FLAT)] == [B_FLAT]


def test_spelling_follows_the_key():
    assert spell(70, -2) == (6, -1, 4)
    assert name(70, -2) == "Bb4"
    assert name(70, 3) == "A#4"
    assert name(60, 0) == "C4"
