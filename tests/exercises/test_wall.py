"""The wall of parts: decisions first, bars under each other, an octave or a yes with one press."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.utils import timezone

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Section
from exercises.models import Exercise, ExerciseLine, PartChoice, RangeChoice, SeatRange
from exercises.music.notation import parse_notation
from exercises.music.score import FOUR_FOUR, line_to_json
from exercises.pages.range_ruler import EDGE, WIDTH
from exercises.pages.wall import PartStanding, wall_of
from exercises.parts import part_of
from tests import factories
from tests.exercises.pages import text_of

pytestmark = pytest.mark.django_db
type Queries = Callable[..., object]


def narrow_range(band: Band, instrument: str = "trumpet", *, low: str = "G3", high: str = "D4") -> None:
    RangeChoice.objects.create(
        band=band,
        instrument=instrument,
        low=low,
        easy_low=low,
        easy_high=high,
        high=high,
        changed_at=timezone.now(),
    )


def rows_of(exercise: Exercise, label: str = "A") -> dict[str, object]:
    line = ExerciseLine.objects.get(exercise=exercise, label=label)
    return {row.instrument.value: row for row in wall_of(line=line, instruments=list(Instrument)).rows}


def test_every_instrument_has_its_row_and_decisions_stand_first(exercise: Exercise, band: Band) -> None:
    narrow_range(band)
    line = exercise.lines.get(label="A")
    wall = wall_of(line=line, instruments=list(Instrument))
    assert len(wall.rows) == 17
    assert wall.rows[0].instrument == Instrument.TRUMPET
    assert wall.rows[0].standing is PartStanding.DECIDE
    assert [row.standing for row in wall.rows] == sorted(row.standing for row in wall.rows)
    assert wall.summary.startswith("1 needs a decision, ")


def test_a_row_outside_says_how_many_notes_and_where(exercise: Exercise, band: Band) -> None:
    """Written C4 D4 | E4 C4: E4 alone is above D4."""
    narrow_range(band)
    row = rows_of(exercise)["trumpet"]
    assert row.says == "1 of 4 above D4, the highest taught note"
    assert [(note.name, note.place) for note in row.outside] == [("E4", "bar 2, beat 1")]
    assert row.svg.count('class="bracket"') == 1
    assert "Line A for Trumpet: C, D, E, C" in row.svg


def test_the_ruler_holds_the_part_and_its_range(exercise: Exercise, band: Band) -> None:
    narrow_range(band)
    reach = rows_of(exercise)["trumpet"].reach
    assert (reach.low.name, reach.low.is_outside) == ("C", False)
    assert (reach.high.name, reach.high.is_outside) == ("E", True)
    assert reach.words == "Uses C4 to E4"
    # From G3 - 3 half steps to E4 + 3 is 15 of them; each end note in the middle of its half step.
    step = (WIDTH - 2 * EDGE) / 15
    assert reach.low.x == round(EDGE + 8 * step, 1)
    assert reach.high.x == round(EDGE + 12 * step, 1)
    assert len(reach.over) == 1
    assert reach.over[0].x == round(EDGE + 10.5 * step, 1)
    assert rows_of(exercise)["snare"].reach is None


def test_a_row_says_which_letters_to_watch(client: Client, band: Band) -> None:
    """Concert A, A flat, E in two flats: an alto's F sharp by its key, F natural and C sharp by signs."""
    exercise = factories.make_exercise(band=band)
    line = exercise.lines.get(label="A")
    line.score = line_to_json(parse_notation("A3:2 Ab3 | A3 E4", label="A", metre=FOUR_FOUR, fifths=-2))
    line.save(update_fields=["score"])
    rows = rows_of(exercise)
    assert [note.name for note in rows["alto_sax"].watch] == ["F♯", "F♮", "C♯"]
    assert [note.spoken for note in rows["bells"].watch] == ["A flat", "E natural"]
    assert rows["snare"].watch == ()
    page = text_of(client.get(f"/exercises/{exercise.pk}/?all"))
    assert '<span class="vh">F sharp, </span>' in page


def test_a_broken_half_step_asks_for_a_look(band: Band) -> None:
    """Concert F sharp major has six sharps, written as six flats: E to E sharp becomes E to F."""
    exercise = factories.make_exercise(band=band)
    line = exercise.lines.get(label="A")
    written = parse_notation("E4:2 E#4 | F#4:4", label="A", metre=FOUR_FOUR, fifths=6)
    line.score = line_to_json(written)
    line.save(update_fields=["score"])
    row = rows_of(exercise)["flute"]
    assert row.standing is PartStanding.LOOK
    assert row.warnings == (
        "Written with 6 flats in place of 6 sharps: it sounds the same.",
        "The key of this part has 6 flats: B, E, A, D, G and C. Choose another concert key.",
        "Bar 1, beat 3: the half step E to E sharp (concert) is written E to F in this part.",
    )


def test_a_simplified_key_is_said(band: Band) -> None:
    """Concert E (four sharps) would give an alto sax seven, beyond the limit of five; a horn gets five."""
    exercise = factories.make_exercise(band=band)
    line = exercise.lines.get(label="A")
    line.score = line_to_json(parse_notation("E3:4", label="A", metre=FOUR_FOUR, fifths=4))
    line.save(update_fields=["score"])
    rows = rows_of(exercise)
    assert rows["alto_sax"].warnings == ("Written with 5 flats in place of 7 sharps: it sounds the same.",)
    assert rows["alto_sax"].standing is PartStanding.LOOK
    assert rows["horn"].warnings == ()


def test_the_page_shows_the_band_first_and_all_on_demand(
    client: Client, exercise: Exercise, section: Section
) -> None:
    address = f"/exercises/{exercise.pk}/"
    assert text_of(client.get(address)).count('<li class="part ') == 17
    factories.make_seat(section=section, instrument="horn")
    factories.make_seat(section=section, instrument="tuba")
    page = text_of(client.get(address))
    assert page.count('<li class="part ') == 2
    assert "the parts of your band" in page
    assert text_of(client.get(f"{address}?all")).count('<li class="part ') == 17


def test_line_b_has_its_own_wall(client: Client, exercise: Exercise) -> None:
    page = text_of(client.get(f"/exercises/{exercise.pk}/?line=B&all"))
    assert "Line B for Horn" in page
    assert "Line A for Horn" not in page
    assert "Line A for Horn" in text_of(client.get(f"/exercises/{exercise.pk}/?line=nonsense"))


def test_the_number_of_queries_does_not_grow_with_parts_or_exercises(
    client: Client, exercise: Exercise, band: Band, section: Section, django_assert_num_queries: Queries
) -> None:
    address = f"/exercises/{exercise.pk}/"
    client.get(address)
    # session, user, membership; exercise with band, lines, choices, ranges, policy; seats, own ranges; posted
    with django_assert_num_queries(11):
        client.get(address)
    for instrument in Instrument:
        PartChoice.objects.create(exercise=exercise, instrument=instrument.value, octave=None)
        for _ in range(2):
            seat = factories.make_seat(section=section, instrument=instrument.value)
            own = {"low": "C1", "easy_low": "C1", "easy_high": "C2", "high": "C2"}
            SeatRange.objects.create(seat=seat, changed_at=timezone.now(), **own)
    for _ in range(30):
        factories.make_exercise(band=band)
    with django_assert_num_queries(11):
        client.get(address)


def test_a_substitute_sees_the_wall_without_its_buttons(
    exercise: Exercise, band: Band, substitute: object, sign_in: Callable[..., Client]
) -> None:
    narrow_range(band)
    page = text_of(sign_in(substitute.user).get(f"/exercises/{exercise.pk}/"))
    assert "Outside" in page
    assert "Allow here" not in page
    assert "Change it" not in page


def decide(client: Client, exercise: Exercise, do: str, **more: str) -> object:
    address = f"/exercises/{exercise.pk}/parts/trumpet/decide/"
    return client.post(address, {"do": do, "line": "A", **more}, follow=True)


def trumpet(exercise: Exercise, label: str = "A") -> list[str | None]:
    part = part_of(line=ExerciseLine.objects.get(exercise=exercise, label=label), instrument="trumpet")
    return [note.pitch.name if note.pitch else None for note in part.line.notes]


def test_allow_here_is_remembered_and_taken_back(client: Client, exercise: Exercise, band: Band) -> None:
    narrow_range(band)
    page = text_of(decide(client, exercise, "accept"))
    assert "the notes outside the range are allowed here" in page
    assert rows_of(exercise)["trumpet"].standing is not PartStanding.DECIDE
    decide(client, exercise, "take-back")
    assert rows_of(exercise)["trumpet"].standing is PartStanding.DECIDE


def test_another_octave_holds_for_both_lines(client: Client, exercise: Exercise) -> None:
    assert trumpet(exercise) == ["C4", "D4", "E4", "C4"]
    decide(client, exercise, "up")
    assert trumpet(exercise) == ["C5", "D5", "E5", "C5"]
    assert trumpet(exercise, "B")[:2] == ["C5", "D5"]
    decide(client, exercise, "down")
    decide(client, exercise, "down")
    assert trumpet(exercise) == ["C3", "D3", "E3", "C3"]
    decide(client, exercise, "engine")
    assert trumpet(exercise) == ["C4", "D4", "E4", "C4"]
    assert PartChoice.objects.get().octave is None


def test_a_yes_ends_when_the_octave_changes(client: Client, exercise: Exercise) -> None:
    decide(client, exercise, "accept")
    decide(client, exercise, "up")
    assert PartChoice.objects.get().accepted_outside is False


def test_an_octave_beyond_the_page_is_refused(client: Client, exercise: Exercise) -> None:
    PartChoice.objects.create(exercise=exercise, instrument="trumpet", octave=5)
    page = text_of(decide(client, exercise, "up"))
    assert "This octave is out of reach: choose another." in page
    assert PartChoice.objects.get().octave == 5


def test_a_note_is_left_out_and_comes_back(client: Client, exercise: Exercise) -> None:
    decide(client, exercise, "leave-out", index="2")
    assert trumpet(exercise) == ["C4", "D4", None, "C4"]
    assert rows_of(exercise)["trumpet"].changed == 1
    decide(client, exercise, "as-written", index="2")
    assert trumpet(exercise) == ["C4", "D4", "E4", "C4"]


def test_another_note_is_played_and_moves_with_the_octave(client: Client, exercise: Exercise) -> None:
    decide(client, exercise, "instead", index="2", pitch="Bb3")
    assert trumpet(exercise) == ["C4", "D4", "Bb3", "C4"]
    decide(client, exercise, "up")
    assert trumpet(exercise) == ["C5", "D5", "Bb4", "C5"]
    # Leaving it out takes the other note's place.
    decide(client, exercise, "leave-out", index="2")
    assert trumpet(exercise) == ["C5", "D5", None, "C5"]


def test_a_held_note_is_left_out_as_a_whole(client: Client, exercise: Exercise) -> None:
    line = exercise.lines.get(label="A")
    written = parse_notation("Bb3:2 C4~ | C4 Bb3", label="A", metre=FOUR_FOUR, fifths=-2)
    line.score = line_to_json(written)
    line.save(update_fields=["score"])
    decide(client, exercise, "leave-out", index="2")
    assert trumpet(exercise) == ["C4", None, None, "C4"]
    decide(client, exercise, "as-written", index="1")
    assert trumpet(exercise) == ["C4", "D4", "D4", "C4"]


@pytest.mark.parametrize(
    ("do", "more", "sentence"),
    [
        ("instead", {"index": "2", "pitch": "H4"}, "“H4” is not a note name"),
        ("instead", {"index": "2", "pitch": ""}, "is not a note name"),
        ("instead", {"index": "2", "pitch": "<b>x</b>"}, "Write one note name, for example Bb4."),
        ("leave-out", {"index": "99"}, "There is no note 100 in this line."),
        ("explode", {}, "Select a valid choice"),
    ],
)
def test_a_decision_that_cannot_be_made_is_said_and_changes_nothing(
    client: Client, exercise: Exercise, do: str, more: dict[str, str], sentence: str
) -> None:
    page = text_of(decide(client, exercise, do, **more))
    assert sentence in page
    assert "<b>x</b>" not in page
    assert trumpet(exercise) == ["C4", "D4", "E4", "C4"]


def test_the_drum_part_has_nothing_to_decide(client: Client, exercise: Exercise) -> None:
    answer = client.post(f"/exercises/{exercise.pk}/parts/snare/decide/", {"do": "accept"}, follow=True)
    assert "there is nothing to decide" in text_of(answer)
    assert not PartChoice.objects.exists()


def test_deciding_wants_a_post_and_a_known_instrument(client: Client, exercise: Exercise) -> None:
    assert client.get(f"/exercises/{exercise.pk}/parts/trumpet/decide/").status_code == 405
    answer = client.post(f"/exercises/{exercise.pk}/parts/kazoo/decide/", {"do": "accept"})
    assert answer.status_code == 404


def test_a_line_that_cannot_be_read_is_said_on_the_page(client: Client, exercise: Exercise) -> None:
    exercise.lines.filter(label="A").update(score={"label": "A"})
    answer = client.get(f"/exercises/{exercise.pk}/")
    assert answer.status_code == 200
    assert "This stored line is damaged: enter the line again." in text_of(answer)
    part = client.get(f"/exercises/{exercise.pk}/parts/flute/")
    assert part.status_code == 200
    assert "This stored line is damaged" in text_of(part)
