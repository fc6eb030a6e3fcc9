"""A director's client, an exercise, an empty store of drawings."""

from collections.abc import Callable

import pytest
from django.core.cache import caches
from django.test import Client

from bandroom.people.models import Band, Membership, User
from exercises.models import Exercise
from tests import factories


@pytest.fixture(autouse=True)
def _empty_store() -> None:
    caches["engravings"].clear()


@pytest.fixture
def client(director: Membership, sign_in: Callable[[User], Client]) -> Client:
    """Signed in as the band's director."""
    return sign_in(director.user)


@pytest.fixture
def exercise(band: Band) -> Exercise:
    return factories.make_exercise(band=band)
