"""An exercise built from a pattern."""

import pytest
from django.test import Client

from exercises.models import Exercise
from tests.exercises.pages import text_of
from tests.exercises.test_bringing import hidden

pytestmark = pytest.mark.django_db
PATTERN = "/exercises/new/pattern/"


def chosen(**changed: str) -> dict[str, str]:
    return {
        "pattern": "five notes",
        "fifths": "-2",
        "metre": "4/4",
        "start": "",
        "half_steps": "4",
        "player": "flute",
        "do": "use",
    } | changed


def test_the_page_draws_the_first_pattern(client: Client) -> None:
    page = text_of(client.get(PATTERN))
    assert page.count('class="line only-wide"') == 2
    assert "five notes up and down" in page


def test_a_pattern_goes_to_the_writing_page_and_is_saved_from_there(client: Client) -> None:
    """The first five notes of B flat major, up and down."""
    page = text_of(client.post(PATTERN, chosen()))
    assert "Five notes in B♭" in page
    assert client.post("/exercises/new/", hidden(page) | {"do": "save"}).status_code == 302
    made = Exercise.objects.get()
    pitches = [note["pitch"] for bar in made.lines.get(label="B").score["bars"] for note in bar]
    assert pitches == ["Bb3", "C4", "D4", "Eb4", "F4", "Eb4", "D4", "C4", "Bb3"]
    assert (made.title, made.source, made.concert_fifths) == ("Five notes in B♭", "pattern", -2)


def test_a_chromatic_walk_starts_where_the_director_says(client: Client) -> None:
    page = text_of(client.post(PATTERN, chosen(pattern="chromatic", start="F3", half_steps="2", fifths="-1")))
    assert "Chromatic walk from F" in page
    assert "F3:2 F#3 | G3" in page


def test_the_drawings_alone_are_sent_while_choosing(client: Client) -> None:
    answer = client.post("/exercises/new/pattern/look/", chosen(pattern="thirds"))
    assert answer.status_code == 200
    assert "<html" not in text_of(answer)
    assert "Line B for Flute" in text_of(answer)


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"start": "H2"}, "“H2” is not a note name"),
        ({"start": "Bb3 C4"}, "Write one note name, for example Bb3."),
        ({"half_steps": "13"}, "A chromatic walk goes up 1 to 12 half steps."),
        ({"half_steps": ""}, "Say how many half steps the walk goes up, 1 to 12."),
        ({"pattern": "polka"}, "Select a valid choice"),
    ],
)
def test_what_makes_no_pattern_is_said(client: Client, changed: dict[str, str], sentence: str) -> None:
    answer = client.post(PATTERN, chosen(**changed))
    assert answer.status_code == 422
    assert sentence in text_of(answer)


def test_a_wrong_choice_leaves_the_drawings_empty(client: Client) -> None:
    answer = client.post("/exercises/new/pattern/look/", chosen(start="<b>"))
    assert answer.status_code == 200
    assert "Nothing to show for line A yet." in text_of(answer)


def test_looking_wants_a_post(client: Client) -> None:
    assert client.get("/exercises/new/pattern/look/").status_code == 405
