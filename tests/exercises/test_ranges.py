"""The band's ranges: moved by the director, judged by every part."""

import pytest
from django.test import Client

from bandroom.people.models import Membership
from exercises.models import Exercise, ExerciseLine, RangeChoice
from exercises.parts import part_of
from tests.exercises.pages import text_of

pytestmark = pytest.mark.django_db
RANGES = "/exercises/ranges/"


def sent(low: str, easy_low: str, easy_high: str, high: str) -> dict[str, str]:
    return {
        "instrument": "trumpet",
        "trumpet-low": low,
        "trumpet-easy_low": easy_low,
        "trumpet-easy_high": easy_high,
        "trumpet-high": high,
    }


def verdict(exercise: Exercise) -> str:
    line = ExerciseLine.objects.get(exercise=exercise, label="A")
    return part_of(line=line, instrument="trumpet").verdict


def test_every_pitched_instrument_has_its_range(client: Client) -> None:
    page = text_of(client.get(RANGES))
    assert page.count("As usual for a first year.") == 16
    assert "Snare" not in page


def test_a_lower_ceiling_is_saved_and_followed(
    client: Client, exercise: Exercise, director: Membership
) -> None:
    """The trumpet's line A is written C4 to E4."""
    assert verdict(exercise) == "comfortable"
    answer = client.post(RANGES, sent("g3", "C4", "C4", "D4"), follow=True)
    assert "Trumpet: the range is saved" in text_of(answer)
    choice = RangeChoice.objects.get()
    assert (choice.low, choice.easy_low, choice.easy_high, choice.high) == ("G3", "C4", "C4", "D4")
    assert choice.changed_by == director.user
    assert verdict(exercise) == "outside"
    client.post(RANGES, sent("G3", "C4", "C4", "E4"))
    assert RangeChoice.objects.count() == 1
    assert verdict(exercise) == "stretch"


def test_the_usual_range_comes_back(client: Client, exercise: Exercise) -> None:
    client.post(RANGES, sent("G3", "C4", "C4", "D4"))
    answer = client.post(f"{RANGES}trumpet/usual/", follow=True)
    assert "back to what is usual for a first year" in text_of(answer)
    assert verdict(exercise) == "comfortable"
    assert client.post(f"{RANGES}trumpet/usual/").status_code == 302


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        (("C5", "C4", "G4", "D5"), "The four notes go upward"),
        (("G3", "C4", "G4", "H4"), "“H4” is not a note name"),
        (("", "C4", "G4", "C5"), "Lowest note: write a note, for example Bb4."),
        (("G3", "C4 C4", "G4", "C5"), "Lowest easy note: write one note name, for example Bb4."),
        (("<b>", "C4", "G4", "C5"), "is not a note name"),
    ],
)
def test_a_range_that_cannot_be_is_said_and_kept_in_its_boxes(
    client: Client, values: tuple[str, str, str, str], sentence: str
) -> None:
    answer = client.post(RANGES, sent(*values))
    page = text_of(answer)
    assert answer.status_code == 422
    assert sentence in page
    assert "<b>" not in page.partition('id="trumpet"')[2].partition("</section>")[0].replace("<b>!", "")
    assert 'value="C4' in page
    assert not RangeChoice.objects.exists()


@pytest.mark.parametrize("instrument", ["snare", "kazoo", ""])
def test_an_instrument_without_a_range_is_404(client: Client, instrument: str) -> None:
    assert client.post(RANGES, sent("G3", "C4", "G4", "C5") | {"instrument": instrument}).status_code == 404


def test_the_usual_range_wants_a_post(client: Client) -> None:
    assert client.get(f"{RANGES}trumpet/usual/").status_code == 405
