"""The pages of this slice are opened on one Tuesday afternoon, by people of one band and of another."""

from collections.abc import Callable, Iterator
from datetime import datetime

import pytest
import time_machine
from django.test import Client

from bandroom.people.models import Band, Membership, Role, Seat, Section, User
from exercises.models import Exercise
from submissions.models import Assignment
from tests import factories


@pytest.fixture
def on_tuesday(at: datetime) -> Iterator[datetime]:
    """Tuesday 6 October 2026, 3 pm in Chicago."""
    with time_machine.travel(at, tick=False):
        yield at


@pytest.fixture
def exercise(band: Band) -> Exercise:
    return factories.make_exercise(band=band)


@pytest.fixture
def assignment(band: Band, section: Section, exercise: Exercise) -> Assignment:
    return factories.make_assignment(band=band, sections=[section], exercise=exercise)


@pytest.fixture
def as_director(director: Membership, sign_in: Callable[[User], Client]) -> Client:
    return sign_in(director.user)


@pytest.fixture
def as_substitute(substitute: Membership, sign_in: Callable[[User], Client]) -> Client:
    return sign_in(substitute.user)


@pytest.fixture
def as_student(seat: Seat, sign_in: Callable[[User], Client]) -> Client:
    return sign_in(seat.student)


@pytest.fixture
def as_stranger(sign_in: Callable[[User], Client]) -> Client:
    """The director of another band."""
    return sign_in(factories.make_staff(band=factories.make_band(name="Elsewhere"), role=Role.DIRECTOR).user)


@pytest.fixture
def filled_in(section: Section) -> dict[str, object]:
    """The form for posting, filled in plainly: due Thursday 8 pm, closes Sunday 8 pm."""
    return {
        "sections": [section.pk],
        "opens": "2026-10-06T15:00",
        "due": "2026-10-08T20:00",
        "closes": "2026-10-11T20:00",
        "lines": ["A", "B"],
        "tempo-A": "72",
        "tempo-B": "72",
        "routes": "either",
        "note": "",
    }


@pytest.fixture
def visitor() -> Client:
    return Client()
