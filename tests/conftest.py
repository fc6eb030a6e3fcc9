"""Fixtures shared by all tests: a band with a director, a substitute and a student; signed-in clients."""

import shutil
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from django.conf import settings
from django.test import Client

from bandroom.people.models import Band, Membership, Role, Seat, Section, User
from tests import factories
from tests.browser import trials
from tests.signing_in import signed_in

#: Tests through pages that say more on a second database: every address once, and the locks of an upload.
PAGES_ON_POSTGRESQL = (
    "bandroom/test_access.py",
    "takes/test_sending.py",
    "takes/test_declaring.py",
    "takes/test_press.py",
)
NOW = datetime(2026, 10, 6, 20, 0, tzinfo=UTC)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        fixtures = set(getattr(item, "fixturenames", ()))
        if item.get_closest_marker("django_db") or fixtures & {"db", "transactional_db"}:
            item.add_marker(pytest.mark.database)
            if _says_more_on_postgresql(item, fixtures):
                item.add_marker(pytest.mark.postgresql)


def _says_more_on_postgresql(item: pytest.Item, fixtures: set[str]) -> bool:
    """Moves, queries, constraints, whatever commits; of pages, each address once: the access table's walk."""
    mark = item.get_closest_marker("django_db")
    commits = "transactional_db" in fixtures or (mark is not None and mark.kwargs.get("transaction"))
    asks_for_pages = any(name in {"client", "sign_in"} or name.startswith("as_") for name in fixtures)
    return bool(commits) or not asks_for_pages or str(item.path).endswith(PAGES_ON_POSTGRESQL)


def pytest_sessionstart() -> None:
    settings.VAR_DIR.mkdir(mode=0o700)


def pytest_sessionfinish() -> None:
    shutil.rmtree(settings.VAR_DIR)


@pytest.fixture
def at() -> datetime:
    """A Tuesday afternoon in the band's autumn, for services that are told the time."""
    return NOW


@pytest.fixture
def band() -> Band:
    return factories.make_band()


@pytest.fixture
def section(band: Band) -> Section:
    return factories.make_section(band=band)


@pytest.fixture
def director(band: Band) -> Membership:
    return factories.make_staff(band=band, role=Role.DIRECTOR)


@pytest.fixture
def substitute(band: Band) -> Membership:
    return factories.make_staff(band=band, role=Role.SUBSTITUTE)


@pytest.fixture
def seat(section: Section) -> Seat:
    return factories.make_seat(section=section)


@pytest.fixture
def sign_in() -> Callable[[User], Client]:
    return signed_in


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Here, since a run in several processes reads no conftest deeper down before it ends."""
    trials.tell(terminalreporter)
