"""One part: both lines, how they are read and fingered; the words shared with students' pages."""

import json
import re

import pytest
from django.test import Client
from django.utils import timezone

from bandroom.people.models import Band
from exercises.drawing.lines import drawn_line
from exercises.models import Exercise, ExerciseLine, FingeringChoice
from exercises.music.notation import parse_notation
from exercises.music.score import FOUR_FOUR, line_to_json
from exercises.pages.fingerings import note_fingerings
from exercises.pages.reading_guide import reading_guide
from tests import factories
from tests.exercises.pages import text_of

pytestmark = pytest.mark.django_db


def line_of(band: Band, text: str, *, fifths: int = -2) -> ExerciseLine:
    exercise = factories.make_exercise(band=band)
    line = exercise.lines.get(label="A")
    line.score = line_to_json(parse_notation(text, label="A", metre=FOUR_FOUR, fifths=fifths))
    line.save(update_fields=["score"])
    return ExerciseLine.objects.get(pk=line.pk)


def test_the_page_shows_both_lines_for_both_screens(client: Client, exercise: Exercise) -> None:
    page = text_of(client.get(f"/exercises/{exercise.pk}/parts/horn/"))
    assert page.count('class="line only-wide"') == 2
    assert page.count('class="line only-narrow"') == 2
    assert "Line B for Horn" in page
    assert "names__count" not in page


def test_every_note_can_be_chosen_and_is_told_why(client: Client, band: Band) -> None:
    """Concert A flat, B flat, A flat, C: a trumpet's B flat, C, B flat, D."""
    line = line_of(band, "Ab3 Bb3 Ab3 C4")
    page = text_of(client.get(f"/exercises/{line.exercise.pk}/parts/trumpet/"))
    told = json.loads(
        page.partition('<script id="told-A" type="application/json">')[2].partition("</script>")[0]
    )
    assert [(note["place"], note["name"]) for note in told] == [
        ("Bar 1, beat 1", "B flat"),
        ("Bar 1, beat 2", "C"),
        ("Bar 1, beat 3", "B flat"),
        ("Bar 1, beat 4", "D"),
    ]
    assert told[2]["words"] == "Still B flat: the flat on beat 1 lasts to the bar line."
    wide = page.partition("only-wide")[2].partition("only-narrow")[0]
    assert re.findall(r'data-thread="(\d)"', wide) == ["0", "2"]
    assert wide.count('class="spot"') == 4


def test_names_and_counts_stand_under_the_notes(client: Client, exercise: Exercise) -> None:
    page = text_of(client.get(f"/exercises/{exercise.pk}/parts/horn/?names"))
    assert page.count('class="names__count"') == 2 * 16  # two bars of four counts, twice, for each line


def test_every_instrument_has_a_page(client: Client, exercise: Exercise) -> None:
    from bandroom.people.instruments import Instrument  # noqa: PLC0415

    for instrument in Instrument:
        answer = client.get(f"/exercises/{exercise.pk}/parts/{instrument.value}/?names")
        assert answer.status_code == 200, instrument
    assert client.get(f"/exercises/{exercise.pk}/parts/kazoo/").status_code == 404


def test_watch_notes_name_every_altered_letter_and_its_places(band: Band) -> None:
    """Concert A flat, A, F sharp are a trumpet's B flat, B, G sharp; B is plain in a key without signs."""
    line = line_of(band, "Ab3 Bb3 Ab3 C4 | Ab3:2 A3 | F#4:4")
    guide = reading_guide(line=line, instrument="trumpet")
    assert guide.key == "no sharps or flats"
    assert [(note.spoken, note.places) for note in guide.watch] == [
        ("B flat", ("bar 1, beats 1 and 3", "bar 2, beat 1")),
        ("G sharp", ("bar 3, beat 1",)),
    ]
    # The second B flat of bar 1 has no sign of its own.
    assert [note.is_hidden_somewhere for note in guide.watch] == [True, False]


def test_the_guide_gives_sign_reason_and_cause(band: Band) -> None:
    guide = reading_guide(line=line_of(band, "Ab3 Bb3 Ab3 C4"), instrument="trumpet")
    first, _, carried, _ = guide.notes
    assert (first.name, first.sign, first.place) == ("B♭", "♭", "bar 1, beat 1")
    assert first.words == "The flat in front of it makes it B flat."
    assert (carried.sign, carried.cause) == ("", "bar 1, beat 1")
    assert carried.words == "Still B flat: the flat on beat 1 lasts to the bar line."


def test_a_reason_that_holds_twice_is_said_once(band: Band) -> None:
    guide = reading_guide(line=line_of(band, "Bb3 C4 D4 C4 | Bb3:4"), instrument="flute")
    assert [(reason.places, reason.words) for reason in guide.reasons] == [
        ("bar 1, beat 1; bar 2, beat 1", "B is flat because of the key signature.")
    ]


def test_a_natural_is_said(band: Band) -> None:
    guide = reading_guide(line=line_of(band, "Ab3:2 A3 | A3:4"), instrument="trumpet")
    assert guide.notes[1].spoken == "B natural"


def test_counts_go_through_held_notes_and_stay_in_order(band: Band) -> None:
    drawn = drawn_line(line=line_of(band, "Bb3:2 C4 | D4:4"), instrument="flute", prefix="p", counted=True)
    counts = re.findall(r'names__count" x="([\d.]+)" y="[\d.]+">([^<]+)<', drawn.wide)
    assert [label for _, label in counts] == ["1", "2", "3", "4"] * 2
    places = [float(x) for x, _ in counts]
    assert places == sorted(places)
    assert len(set(places)) == 8


def test_drums_have_a_rhythm_and_no_letters(band: Band) -> None:
    line = line_of(band, "Bb3:2 C4")
    guide = reading_guide(line=line, instrument="snare")
    assert (guide.key, guide.watch) == ("", ())
    drawn = drawn_line(line=line, instrument="snare", prefix="p").wide
    assert "the rhythm on one drum" in drawn
    assert 'role="img"' in drawn
    assert "spot" not in drawn


def test_valves_are_shown_without_a_yes_and_keys_only_with_one(band: Band) -> None:
    """Trumpet C, D: open and 1-3 (computed from the harmonic series). Clarinet rows want a director's yes."""
    line = line_of(band, "Bb3:2 C4")
    trumpet = note_fingerings(line=line, instrument="trumpet", confirmed_only=True)
    assert [(note.spoken, note.words) for note in trumpet] == [
        ("C", "No valves"),
        ("D", "Valves 1 and 3"),
    ]
    assert note_fingerings(line=line, instrument="clarinet", confirmed_only=True) == ()
    assert len(note_fingerings(line=line, instrument="clarinet")) == 2
    FingeringChoice.objects.create(
        band=band, instrument="clarinet", row_id="clarinet:60:primary", confirmed_at=timezone.now()
    )
    line = ExerciseLine.objects.get(pk=line.pk)
    shown = note_fingerings(line=line, instrument="clarinet", confirmed_only=True)
    assert [(note.spoken, note.trust) for note in shown] == [("C", "checked by your director")]


def test_a_yes_for_one_band_is_none_for_another(band: Band) -> None:
    FingeringChoice.objects.create(
        band=factories.make_band(name="Other"),
        instrument="clarinet",
        row_id="clarinet:60:primary",
        confirmed_at=timezone.now(),
    )
    line = line_of(band, "Bb3:4")
    assert note_fingerings(line=line, instrument="clarinet", confirmed_only=True) == ()
