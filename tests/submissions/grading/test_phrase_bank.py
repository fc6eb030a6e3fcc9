"""The director's phrases: kept in the order the director gave them."""

import pytest

from bandroom.people.models import Band
from submissions.grading.services.phrases import add_phrase, change_phrase, delete_phrase, move_phrase
from submissions.models import Phrase
from tests import factories

pytestmark = pytest.mark.django_db
NEXT = Phrase.Kind.NEXT_STEP


def labels(band: Band, kind: str = NEXT) -> list[str]:
    return [phrase.label for phrase in Phrase.objects.filter(band=band, kind=kind)]


@pytest.fixture
def three(band: Band) -> list[Phrase]:
    return [add_phrase(band=band, kind=NEXT, label=label, text=f"{label}.") for label in ("a", "b", "c")]


@pytest.mark.parametrize(
    ("place", "step", "order"), [(0, 1, "bac"), (2, -1, "acb"), (0, -1, "abc"), (2, 1, "abc")]
)
def test_a_phrase_moves_one_place_and_stops_at_the_ends(
    band: Band, three: list[Phrase], place: int, step: int, order: str
):
    move_phrase(phrase=three[place], step=step)
    assert labels(band) == list(order)


def test_a_new_one_comes_last_of_its_kind(band: Band, three: list[Phrase]):
    add_phrase(band=band, kind=Phrase.Kind.WORKED, label="x", text="x.")
    delete_phrase(phrase=three[0])
    add_phrase(band=band, kind=NEXT, label="d", text="d.")
    assert labels(band) == ["b", "c", "d"]
    assert labels(band, Phrase.Kind.WORKED) == ["x"]


def test_another_bands_phrases_do_not_move(three: list[Phrase]):
    other = factories.make_band(name="Other Band")
    theirs = [add_phrase(band=other, kind=NEXT, label=label, text=label) for label in ("p", "q")]
    move_phrase(phrase=three[2], step=-1)
    move_phrase(phrase=theirs[1], step=-1)
    assert labels(other) == ["q", "p"]


def test_words_are_changed_in_place(band: Band, three: list[Phrase]):
    change_phrase(phrase=three[1], label="new", text="New words.")
    assert labels(band) == ["a", "new", "c"]
