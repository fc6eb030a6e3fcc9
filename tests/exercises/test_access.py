"""Who may open which page: a visitor, a student, a stranger, a substitute, a director."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import get_resolver

from bandroom.people.models import Membership, Role, Seat
from exercises.models import Exercise
from tests import factories

pytestmark = pytest.mark.django_db
READ, WRITE = "read", "write"
#: Every address of the app: name, method, who may, and the status a director gets.
ADDRESSES = [
    ("exercises", "get", READ, 200),
    ("write", "get", WRITE, 200),
    ("bring-in", "post", WRITE, 422),
    ("sort", "post", WRITE, 422),
    ("pattern", "get", WRITE, 200),
    ("look-at-pattern", "post", WRITE, 200),
    ("look", "post", WRITE, 200),
    ("edit", "get", WRITE, 200),
    ("put-away", "post", WRITE, 302),
    ("take-out", "post", WRITE, 302),
    ("exercise", "get", READ, 200),
    ("print", "get", READ, 200),
    ("score-musicxml", "get", READ, 200),
    ("score-midi", "get", READ, 200),
    ("part", "get", READ, 200),
    ("decide", "post", WRITE, 302),
    ("part-musicxml", "get", READ, 200),
    ("part-midi", "get", READ, 200),
    ("ranges", "get", WRITE, 200),
    ("usual-range", "post", WRITE, 302),
    ("seat-range", "get", WRITE, 200),
    ("range-of-the-band", "post", WRITE, 302),
    ("fingerings", "get", READ, 200),
    ("part-settings", "post", WRITE, 422),
    ("fingering-page", "get", READ, 200),
    ("confirm-fingerings", "post", WRITE, 302),
    ("fingering-note", "get", WRITE, 200),
]


OF_A_SEAT = frozenset({"seat-range", "range-of-the-band"})


def address(name: str, exercise: Exercise, seat: Seat | None = None) -> str:
    from django.urls import reverse  # noqa: PLC0415

    if name in OF_A_SEAT:
        seat = seat or factories.make_seat(section=factories.make_section(band=exercise.band))
        return reverse(f"exercises:{name}", args=[seat.pk])
    takes: dict[str, dict[str, object]] = {
        "usual-range": {"instrument": "horn"},
        "fingering-page": {"instrument": "horn"},
        "confirm-fingerings": {"instrument": "horn"},
        "fingering-note": {"instrument": "horn", "midi": 60},
    }
    of_exercise = {"edit", "put-away", "take-out", "exercise", "print", "score-musicxml", "score-midi"}
    of_part = {"part", "decide", "part-musicxml", "part-midi"}
    if name in of_exercise:
        takes[name] = {"pk": exercise.pk}
    elif name in of_part:
        takes[name] = {"pk": exercise.pk, "instrument": "horn"}
    return reverse(f"exercises:{name}", kwargs=takes.get(name, {}))


def ask(client: Client, method: str, where: str) -> int:
    return getattr(client, method)(where).status_code


def test_no_address_is_forgotten() -> None:
    patterns = get_resolver("exercises.urls").url_patterns
    assert {pattern.name for pattern in patterns} == {name for name, *_ in ADDRESSES}


@pytest.mark.parametrize(("name", "method", "who", "status"), ADDRESSES)
def test_everybody_gets_what_is_theirs(
    name: str,
    method: str,
    who: str,
    status: int,
    exercise: Exercise,
    seat: Seat,
    director: Membership,
    substitute: Membership,
    sign_in: Callable[..., Client],
) -> None:
    where = address(name, exercise, seat)
    visitor = Client()
    assert ask(visitor, method, where) == (302 if method == "get" else 401)
    assert ask(sign_in(seat.student), method, where) == 404
    # The substitute first: the director's request may change something.
    assert ask(sign_in(substitute.user), method, where) == (status if who == READ else 404)
    assert ask(sign_in(director.user), method, where) == status


@pytest.mark.parametrize(
    ("name", "method"),
    [
        (name, method)
        for name, method, *_ in ADDRESSES
        if name
        in {
            "edit",
            "put-away",
            "take-out",
            "exercise",
            "print",
            "score-musicxml",
            "score-midi",
            "part",
            "decide",
            "part-musicxml",
            "part-midi",
            "seat-range",
            "range-of-the-band",
        }
    ],
)
def test_a_director_of_another_band_finds_nothing(
    name: str, method: str, exercise: Exercise, sign_in: Callable[..., Client]
) -> None:
    stranger = factories.make_staff(band=factories.make_band(name="Elsewhere"), role=Role.DIRECTOR)
    assert ask(sign_in(stranger.user), method, address(name, exercise)) == 404
    exercise.refresh_from_db()
    assert exercise.put_away_at is None
    assert not exercise.part_choices.exists()
