"""The page on which an exercise is written or changed."""

from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from django.utils.html import escape

from bandroom.people.models import Band, Section
from exercises.models import Exercise
from exercises.music.notation import parse_notation
from exercises.music.score import FOUR_FOUR
from tests import factories
from tests.exercises.pages import LINE_A, text_of, written

pytestmark = pytest.mark.django_db
NEW = "/exercises/new/"


def test_the_empty_page_explains_how_notes_are_typed(client: Client) -> None:
    answer = client.get(NEW)
    assert answer.status_code == 200
    assert "How to type notes" in text_of(answer)


def test_an_exercise_is_saved_and_its_wall_shown(client: Client, band: Band) -> None:
    answer = client.post(NEW, written())
    made = Exercise.objects.get()
    assert answer.status_code == 302
    assert answer.url == f"/exercises/{made.pk}/"
    assert (made.band, made.title, made.source) == (band, "Stepping Up", "typed")
    rows = list(made.lines.all())
    assert [(row.label, row.caption, row.tempo_bpm) for row in rows] == [
        ("A", "half notes", 66),
        ("B", "quarters", 80),
    ]
    assert rows[0].score["bars"][0] == [{"pitch": "Bb3", "beats": "2"}, {"pitch": "C4", "beats": "2"}]


def test_line_b_may_be_left_empty(client: Client) -> None:
    client.post(NEW, written(notes_B=""))
    assert [row.label for row in Exercise.objects.get().lines.all()] == ["A"]


def test_notes_as_written_for_alto_sax_are_stored_in_concert_pitch(client: Client) -> None:
    """A written G major scale step: an alto sax sounds a major sixth lower, so G4 is B flat 3."""
    client.post(NEW, written(written_for="alto_sax", fifths="1", notes_A="G4:2 A | B G", notes_B=""))
    made = Exercise.objects.get()
    assert made.concert_fifths == -2
    pitches = [note["pitch"] for bar in made.lines.get().score["bars"] for note in bar]
    assert pitches == ["Bb3", "C4", "D4", "Bb3"]
    assert made.part_choices.get().instrument == "alto_sax"


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("title", "", "Give the exercise a title."),
        ("title", "x" * 300, "A title has at most 80 letters, this one has 300: make it shorter."),
        ("notes_A", "", "Type the notes of line A, for example: Bb3:2 C4 | D4 Bb3."),
        ("notes_A", "Bb3:2 H4", "“H4” is not a note: start with a letter from A to G, or write “rest”."),
        ("notes_A", "Bb3 C4", "Bar 1 has 2 beats, but 4/4 needs 4 beats: add 2 beats."),
        ("notes_B", "Bb3:9", "“:9” cannot be printed as one note"),
        ("notes_A", "C4 " * 6000, "This text is too long for one line of an exercise."),
        ("tempo_A", "", "Give a tempo, for example 72."),
        ("tempo_A", "900", "The tempo lies between 40 and 160."),
        ("tempo_A", "fast", "Give the tempo as a number, for example 72."),
        ("caption_A", "x" * 41, "Say it in at most 40 letters."),
        ("metre", "0/0", "Select a valid choice"),
        ("fifths", "99", "Select a valid choice"),
        ("written_for", "theremin", "Select a valid choice"),
    ],
)
def test_what_cannot_be_saved_is_said_and_nothing_typed_is_lost(
    client: Client, field: str, value: str, sentence: str
) -> None:
    sent = written(**{field: value})
    answer = client.post(NEW, sent)
    page = text_of(answer)
    assert answer.status_code == 422
    assert sentence in page
    assert not Exercise.objects.exists()
    for name in ("title", "notes_A", "notes_B", "caption_B"):
        assert escape(sent[name]) in page


def test_a_fault_points_at_its_place(client: Client) -> None:
    page = text_of(client.post("/exercises/new/look/", written(notes_A="Bb3:2 C4 |\r\nD4 X9")))
    assert "<mark>X9</mark>" in page
    # Counted as the browser counts: a line break is one character.
    assert f'data-from="{len("Bb3:2 C4 | D4 ")}" data-length="2"' in page


def test_html_in_every_text_field_is_escaped(client: Client) -> None:
    bad = "<b id=x>&"
    answer = client.post(NEW, written(title=bad, caption_A=bad, caption_B=bad))
    page = text_of(client.get(answer.url))
    assert bad not in page
    assert escape(bad) in page
    part = text_of(client.get(f"{answer.url}parts/flute/"))
    assert bad not in part
    assert escape(bad) in part
    edit = text_of(client.get(f"{answer.url}edit/"))
    assert bad not in edit
    listed = text_of(client.get("/exercises/"))
    assert bad not in listed
    notes = text_of(client.post(NEW, written(notes_A="<script>alert(1)</script>")))
    assert "<script>alert" not in notes
    assert "&lt;script&gt;alert" in notes


def test_the_notes_are_shown_without_saving(client: Client) -> None:
    answer = client.post(NEW, written(do="look"))
    assert answer.status_code == 200
    assert text_of(answer).count('class="line only-wide"') == 2
    assert not Exercise.objects.exists()


def test_the_drawings_alone_are_sent_while_typing(client: Client) -> None:
    answer = client.post("/exercises/new/look/", written(notes_B="Bb3 C4", player="horn"))
    page = text_of(answer)
    assert answer.status_code == 200
    assert "<html" not in page
    assert page.count('class="line only-wide"') == 1
    assert "Line A for Horn" in page
    assert "Bar 1 has 2 beats" in page


def test_an_unknown_player_is_shown_as_the_first(client: Client) -> None:
    page = text_of(client.post("/exercises/new/look/", written(player="theremin")))
    assert "Line A for B♭ clarinet" in page


def test_looking_wants_a_post(client: Client) -> None:
    assert client.get("/exercises/new/look/").status_code == 405


def test_the_edit_page_shows_what_is_stored(client: Client, exercise: Exercise) -> None:
    page = text_of(client.get(f"/exercises/{exercise.pk}/edit/"))
    assert escape(LINE_A) in page
    assert "makes a new version" not in page
    assert page.count('class="line only-wide"') == 2


def test_an_exercise_is_shown_in_another_key_before_it_is_saved(client: Client, exercise: Exercise) -> None:
    """B flat, C, D, B flat a fourth up, or a fifth down: the smaller way leads to E flat, F, G."""
    page = text_of(client.get(f"/exercises/{exercise.pk}/edit/?key=-3"))
    assert "Moved to E♭ major, 3 flats. Nothing is saved yet." in page
    assert "Eb4:2 F4 | G4 Eb4" in page
    exercise.refresh_from_db()
    assert exercise.concert_fifths == -2
    assert "Nothing is saved yet" not in text_of(client.get(f"/exercises/{exercise.pk}/edit/?key=99"))


def test_a_damaged_exercise_cannot_be_edited_and_says_so(client: Client, exercise: Exercise) -> None:
    exercise.lines.update(score={})
    answer = client.get(f"/exercises/{exercise.pk}/edit/", follow=True)
    assert "This stored line is damaged: enter the line again." in text_of(answer)


def test_an_exercise_is_changed_in_place(client: Client, exercise: Exercise) -> None:
    answer = client.post(f"/exercises/{exercise.pk}/edit/", written(title="Other Stones"))
    assert answer.url == f"/exercises/{exercise.pk}/"
    exercise.refresh_from_db()
    assert exercise.title == "Other Stones"


def test_a_posted_exercise_says_that_a_new_version_is_made_and_makes_it(
    client: Client, exercise: Exercise, band: Band, section: Section
) -> None:
    factories.make_assignment(band=band, sections=[section], exercise=exercise)
    assert "Saving makes a new version" in text_of(client.get(f"/exercises/{exercise.pk}/edit/"))
    answer = client.post(f"/exercises/{exercise.pk}/edit/", written(title="Second edition"))
    newer = Exercise.objects.get(title="Second edition")
    assert answer.url == f"/exercises/{newer.pk}/"
    exercise.refresh_from_db()
    assert (exercise.title, exercise.replaced_by) == ("Stepping Stones", newer)
    # The old address leads on; a form that was still open keeps what was typed and says why.
    assert client.get(f"/exercises/{exercise.pk}/edit/").url == f"/exercises/{newer.pk}/edit/"
    late = client.post(f"/exercises/{exercise.pk}/edit/", written(title="Typed too late"))
    assert late.status_code == 422
    assert "There is a newer version of this exercise: change that one." in text_of(late)
    assert "Typed too late" in text_of(late)
    assert f"/exercises/{newer.pk}/" in text_of(client.get(f"/exercises/{exercise.pk}/"))


#: Every example that the page gives, and a whole line that it stands for.
EXAMPLES = {
    "Bb3:2 C4 | D4 Eb4 | F4:1 Eb D C | Bb3:4": "Bb3:2 C4 | D4 Eb4 | F4:1 Eb D C | Bb3:4",
    "Bb4": "Bb4:4",
    "F#3": "F#3:4",
    "C5": "C5:4",
    "Bb4 A G": "Bb4 A G rest",
    "D4:2": "D4:2 E4",
    "C4 rest": "C4 rest C4 rest",
    "rest:2": "C4:2 rest:2",
    "F4:2~ F4": "F4:2~ F4",
    "C4 D E F | G": "C4 D E F | G:4",
    "pickup F4 | Bb4:4": "pickup F4 | Bb4:4",
}


def test_every_example_of_the_help_is_read_by_the_engine() -> None:
    help_text = (Path(settings.BASE_DIR) / "templates/exercises/_notation.html").read_text(encoding="utf-8")
    shown = [piece.partition("</code>")[0] for piece in help_text.split("<code>")[1:]]
    assert shown == list(EXAMPLES)
    for line in EXAMPLES.values():
        assert parse_notation(line, label="A", metre=FOUR_FOUR, fifths=0).notes


def test_only_get_and_post(client: Client, exercise: Exercise) -> None:
    assert client.put(NEW).status_code == 405
    assert client.delete(f"/exercises/{exercise.pk}/edit/").status_code == 405
