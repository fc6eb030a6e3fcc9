"""Tuesday 6 October 2026, 3 pm in Chicago: an assignment due on Thursday, a check-in this evening."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client

from bandroom.people.models import Band, Membership, Seat, Section
from submissions.checkins.services import booking as services
from submissions.checkins.services import timetable
from submissions.models import Assignment, Booking, Slot
from tests import factories

LINK, PASSCODE = "https://meet.school.example/band-room", "two-flats-9"
HTML = "<b onclick=alert(1)>&\"'</b>"
ESCAPED = "&lt;b onclick=alert(1)&gt;&amp;&quot;&#x27;&lt;/b&gt;"


def make_slot(*, band: Band, sections: list[Section], at: datetime, hours: float = 1, **values: Any) -> Slot:
    """One place for five minutes, by video, an hour from `at`."""
    (slot,) = timetable.make_slots(
        band=band,
        sections=sections,
        first_starts_at=at + timedelta(hours=hours),
        at=at,
        **({"minutes": 5, "link": LINK, "passcode": PASSCODE} | values),
    )
    return slot


def refreshed(row: Any) -> Any:
    row.refresh_from_db()
    return row


@pytest.fixture
def on_tuesday(at: datetime) -> Iterator[datetime]:
    with time_machine.travel(at, tick=False):
        yield at


@pytest.fixture
def assignment(band: Band, section: Section) -> Assignment:
    return factories.make_assignment(band=band, sections=[section])


@pytest.fixture
def slot(band: Band, section: Section, at: datetime) -> Slot:
    return make_slot(band=band, sections=[section], at=at)


@pytest.fixture
def booking(slot: Slot, seat: Seat, assignment: Assignment, at: datetime) -> Booking:
    return services.book(slot=slot, seat=seat, assignment=assignment, wants_help=False, at=at)


@pytest.fixture
def staff(director: Membership, sign_in) -> Client:
    return sign_in(director.user)


@pytest.fixture
def student(seat: Seat, sign_in) -> Client:
    return sign_in(seat.student)
