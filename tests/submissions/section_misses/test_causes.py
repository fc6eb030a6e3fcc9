"""Every cause from what sounded, with its exact words.

The rules that are broken one at a time are those of Western notation as the reading engine states them: the
key signature holds in every octave, a sign for its own line or space up to the bar line, and a tie carries it
over for the tied note alone. What to do about it is common practice, no source.
"""

from typing import NamedTuple

import pytest

from submissions.listening.evidence import Cause
from submissions.section_misses.places import MissedPlace, places_of, shared_misreading
from submissions.section_misses.words import headline, title, tomorrow, why
from tests.submissions.section_misses.sections import NOT_HEARD, other, section, written


class Case(NamedTuple):
    cause: Cause
    text: str
    fifths: int
    note: int
    steps: int
    title: str
    why: str
    tomorrow: str
    headline: str


NO_ONE = "No one misreading is shared so far."
CASES = [
    Case(
        Cause.KEY_FORGOTTEN, "Bb4:1 C5 D5 Bb4 | A4:4 |", -2, 0, 1,
        "Bar 1, beat 1: 4 of 5 played B.",
        "The key signature was likely forgotten: it turns every B into B flat.",
        "say the key aloud, point to every B in the line, then play it slowly.",
        "4 of 5 likely forgot a flat of the key signature, most of all in bar 1.",
    ),
    Case(
        Cause.KEY_FORGOTTEN, "G4:1 A4 B4 F#4 | G4:4 |", 1, 3, -1,
        "Bar 1, beat 4: 4 of 5 played F.",
        "The key signature was likely forgotten: it turns every F into F sharp.",
        "say the key aloud, point to every F in the line, then play it slowly.",
        "4 of 5 likely forgot a sharp of the key signature, most of all in bar 1.",
    ),
    Case(
        Cause.SIGN_OVERLOOKED, "C4:1 F#4 G4 F#4 | G4:4 |", 0, 1, -1,
        "Bar 1, beat 2: 4 of 5 played F.",
        "The sharp in front of it was likely overlooked.",
        "play F sharp and F back to back, then bar 1.",
        "4 of 5 likely overlooked a sign in front of a note, most of all in bar 1.",
    ),
    Case(
        Cause.NATURAL_MISSED, "G4:1 F#4 F4 E4 | C4:4 |", 0, 2, 1,
        "Bar 1, beat 3: 4 of 5 played F sharp.",
        "The natural sign was likely overlooked: F sharp on beat 2 was still in the fingers.",
        "say the letter names of bar 1 twice, then play it.",
        "4 of 5 likely overlooked a natural sign, most of all in bar 1.",
    ),
    Case(
        Cause.NATURAL_MISSED, "B4:1 C5 A4 B4 | C5:4 |", -1, 0, -1,
        "Bar 1, beat 1: 4 of 5 played B flat.",
        "The natural sign was likely overlooked, and the note played as in the key signature.",
        "say the letter names of bar 1 twice, then play it.",
        "4 of 5 likely overlooked a natural sign, most of all in bar 1.",
    ),
    Case(
        Cause.SIGN_NOT_CARRIED, "F#4:1 G4 F#4 G4 | C4:4 |", 0, 2, -1,
        "Bar 1, beat 3: 4 of 5 played F.",
        "The sharp on beat 1 was likely taken for one note only; it lasts to the bar line.",
        "trace bar 1 with a finger from the sign to the bar line, naming every F.",
        "4 of 5 likely took a sign for one note only, most of all in bar 1.",
    ),
    Case(
        Cause.SIGN_NOT_CARRIED, "B4:1 C5 B4 A4 | C5:4 |", -1, 2, -1,
        "Bar 1, beat 3: 4 of 5 played B flat.",
        "The natural on beat 1 was likely taken for one note only; it lasts to the bar line.",
        "trace bar 1 with a finger from the sign to the bar line, naming every B.",
        "4 of 5 likely took a sign for one note only, most of all in bar 1.",
    ),
    Case(
        Cause.SIGN_AFTER_TIE, "G4:2 G#4~ | G#4:1 G4 A4 rest | C5:4 |", 0, 2, 1,
        "Bar 2, beat 2: 4 of 5 played G sharp.",
        "The sharp tied over the bar line was likely read as lasting the whole bar; it ends with the tie.",
        "clap bars 1 and 2, say “G sharp, hold, G”.",
        "4 of 5 likely kept a tied sign after the tie had ended, most of all in bar 2.",
    ),
    Case(
        Cause.SIGN_CARRIED_OVER_BARLINE, "F#4:1 G4 A4 F#4 | F4:1 E4 D4 C4 | C4:4 |", 0, 4, 1,
        "Bar 2, beat 1: 4 of 5 played F sharp.",
        "The sharp of bar 1 was likely carried on over the bar line, which ends it.",
        "play bar 1, stop at the bar line, say “F”, go on.",
        "4 of 5 likely carried a sign on over the bar line, most of all in bar 2.",
    ),
    Case(
        Cause.SIGN_CARRIED_OVER_BARLINE, "B4:1 C5 A4 B4 | Bb4:2 C5 | C5:4 |", -1, 4, 1,
        "Bar 2, beat 1: 4 of 5 played B.",
        "The natural of bar 1 was likely carried on over the bar line, which ends it.",
        "play bar 1, stop at the bar line, say “B flat”, go on.",
        "4 of 5 likely carried a sign on over the bar line, most of all in bar 2.",
    ),
    Case(
        Cause.SIGN_CARRIED_OVER_BARLINE, "F#4:1 G4 A4 F#4 | F4:1 E4 F4 C4 | C4:4 |", 0, 6, 1,
        "Bar 2, beat 3: 4 of 5 played F sharp.",
        "The sharp of bar 1 was likely carried on over the bar line, which ends it.",
        "play bar 1, stop at the bar line, say “F”, go on.",
        "4 of 5 likely carried a sign on over the bar line, most of all in bar 2.",
    ),
    Case(
        Cause.SIGN_OF_OTHER_OCTAVE, "F#4:1 G4 A4 F5 | C4:4 |", 0, 3, 1,
        "Bar 1, beat 4: 4 of 5 played F sharp.",
        "The sharp on beat 1 was likely read for this F as well; a sign holds on its own line or space.",
        "finger both notes called F in bar 1, naming each with its sign.",
        "4 of 5 likely read a sign for the other octave as well, most of all in bar 1.",
    ),
    Case(
        Cause.NEIGHBOUR_NOTE, "G4:1 E4 C4 E4 | C4:4 |", 0, 1, 1,
        "Bar 1, beat 2: 4 of 5 played F.",
        "Likely the neighbour: F is the next note above E.",
        "name the notes of bar 1 aloud, then finger E and F in turn.",
        "4 of 5 likely played the neighbour of a note, most of all in bar 1.",
    ),
    Case(
        Cause.NEIGHBOUR_NOTE, "C5:1 D5 Eb5 D5 | Bb4:4 |", -2, 0, -2,
        "Bar 1, beat 1: 4 of 5 played B flat.",
        "Likely the neighbour: B flat is the next note below C.",
        "name the notes of bar 1 aloud, then finger C and B flat in turn.",
        "4 of 5 likely played the neighbour of a note, most of all in bar 1.",
    ),
    Case(
        Cause.ADDED_SIGN, "G4:1 B4 C5 B4 | C5:4 |", 0, 1, -1,
        "Bar 1, beat 2: 4 of 5 played B flat.",
        "Likely from habit: neither the key nor a sign on the page makes this B so.",
        "play B and B flat back to back, then bar 1.",
        "4 of 5 likely played a sharp or flat that is not on the page, most of all in bar 1.",
    ),
    Case(
        Cause.OTHER_OCTAVE, "G4:1 E4 C4 E4 | C4:4 |", 0, 2, 12,
        "Bar 1, beat 3: 4 of 5 played C an octave too high.",
        "Likely the right name, but the note spoke in another octave.",
        "sing C, then play bar 1 slowly and listen for it.",
        NO_ONE,
    ),
    Case(
        Cause.STAYED, "G4:1 C4 E4 C4 | C4:4 |", 0, 1, 7,
        "Bar 1, beat 2: 4 of 5 played G.",
        "They likely stayed on the note before, and changed late or not at all.",
        "call each note of bar 1 one beat ahead while they finger along.",
        NO_ONE,
    ),
    Case(
        Cause.OTHER_NOTE, "G4:1 C5 E4 C4 | C4:4 |", 0, 1, -3,
        "Bar 1, beat 2: 4 of 5 played A.",
        "No sign explains it; likely a slip of the fingers.",
        "finger bar 1 without sound, then play it slowly.",
        NO_ONE,
    ),
]  # fmt: skip


def ids(case: Case) -> str:
    return f"{case.cause}: {case.text}"


@pytest.mark.parametrize("case", CASES, ids=ids)
def test_what_four_of_five_played_names_its_cause_and_a_thing_to_do(case: Case):
    line = written(case.text, fifths=case.fifths)
    notes, counted = section(line, [{case.note: other(case.steps)}] * 4 + [{}])
    (place,) = places_of(counted, line=line, notes=notes)
    assert place.likely.cause is case.cause
    assert title(place, heard=counted.heard, line=line) == case.title
    assert why(place, line=line) == case.why
    assert tomorrow(place) == case.tomorrow
    assert headline(shared_misreading(counted, line=line, notes=notes), counted, line=line) == case.headline


def only_place(*slips: dict[int, dict[str, object]]) -> MissedPlace:
    line = written("G4:1 C5 E4 C4 | C4:4 |")
    notes, counted = section(line, slips)
    (place,) = places_of(counted, line=line, notes=notes)
    return place


def test_a_note_left_out_by_most():
    place = only_place({1: NOT_HEARD}, {1: NOT_HEARD}, {1: other(-1)}, {})
    line = written("G4:1 C5 E4 C4 | C4:4 |")
    assert place.likely.cause is Cause.NOT_HEARD
    assert title(place, heard=4, line=line) == "Bar 1, beat 2: 2 of 4 not heard, 1 missed it in another way."
    assert why(place, line=line) == "Likely left out, or too soft to hear."
    assert tomorrow(place) == "count bar 1 aloud, then play it with a clear start on C."


def test_a_note_missed_in_different_ways():
    place = only_place({1: other(-1)}, {1: other(2)}, {1: other(5)}, {})
    line = written("G4:1 C5 E4 C4 | C4:4 |")
    assert place.likely.cause is Cause.MIXED
    assert title(place, heard=4, line=line) == "Bar 1, beat 2: 3 of 4 missed C, in different ways."
    assert why(place, line=line) == "No one reason stands out; the spot itself is likely not secure yet."
    assert tomorrow(place) == "play bar 1 three times, slowly enough that everybody gets it."


def test_who_missed_it_otherwise_is_said_beside_the_most():
    place = only_place({1: other(-1)}, {1: other(-1)}, {1: NOT_HEARD}, {})
    line = written("G4:1 C5 E4 C4 | C4:4 |")
    assert title(place, heard=4, line=line) == ("Bar 1, beat 2: 2 of 4 played B, 1 missed it in another way.")


def test_the_students_own_letter_is_said_where_no_rule_gives_one():
    """A minor third down from C, which the listener spelled for this part."""
    place = only_place({1: other(-4, "Ab4")}, {1: other(-4, "Ab4")}, {})
    assert place.likely.read_as is not None
    assert place.likely.read_as.spoken == "A flat"


def test_a_place_that_is_a_likelihood_is_said_as_one():
    for case in CASES:
        assert "likely" in case.why.lower(), case.why
