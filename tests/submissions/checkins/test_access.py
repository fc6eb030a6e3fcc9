"""Who may open what: the exact status of every address for everybody, and who ever sees the meeting link."""

from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from bandroom.people.models import Role
from submissions.checkins import feeds
from submissions.checkins.services import booking as booking_services
from submissions.checkins.services import meeting, timetable
from submissions.models import Booking
from tests import factories
from tests.submissions.checkins.conftest import LINK, PASSCODE, make_slot

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("in_the_meeting")]

#: Nobody, the student who booked, a classmate, a student of another band, substitute, director, director of
#: another band.
OF_THE_BAND = (302, 200, 200, 200, 200, 200, 200)
SIGNED_IN_POST = (401, 302, 302, 302, 302, 302, 302)
DIRECTOR_GET = (302, 404, 404, 404, 404, 200, 404)
DIRECTOR_POST = (401, 404, 404, 404, 404, 302, 404)
STAFF_POST = (401, 404, 404, 404, 302, 302, 404)
MATRIX = [
    ("get", "slots", OF_THE_BAND),
    ("get", "slots-new", (302, 404, 404, 404, 404, 200, 200)),
    ("post", "slots-new", (401, 404, 404, 404, 404, 422, 422)),
    ("get", "slot", (302, 200, 200, 404, 200, 200, 404)),
    ("get", "slot-file", (302, 200, 404, 404, 200, 200, 404)),
    ("get", "slot-edit", DIRECTOR_GET),
    ("post", "slot-edit", (401, 404, 404, 404, 404, 422, 404)),
    ("post", "slot-cancel", DIRECTOR_POST),
    ("post", "slot-delete", DIRECTOR_POST),
    # without a time the form comes back with its sentence
    ("post", "book", (401, 409, 409, 409, 404, 404, 404)),
    ("get", "book-for", DIRECTOR_GET),
    ("post", "book-for", (401, 404, 404, 404, 404, 409, 404)),
    # it has begun, so it leads back to the list
    ("get", "booking-move", (302, 302, 404, 404, 404, 404, 404)),
    ("post", "booking-move", (401, 409, 404, 404, 404, 404, 404)),
    ("post", "booking-cancel", (401, 302, 404, 404, 404, 404, 404)),
    ("post", "booking-here", STAFF_POST),
    ("post", "booking-absent", STAFF_POST),
    ("post", "booking-back", STAFF_POST),
    ("post", "booking-helped", STAFF_POST),
    ("post", "booking-return", (401, 404, 404, 404, 422, 422, 404)),
    ("post", "calendar-new", (401, 200, 200, 200, 200, 200, 200)),
    ("post", "calendar-end", SIGNED_IN_POST),
    ("get", "calendar", (200,) * 7),
]


@pytest.fixture
def in_the_meeting(slot):
    with time_machine.travel(slot.starts_at + timedelta(minutes=1), tick=False):
        yield


@pytest.fixture
def address(slot, booking, seat, section, assignment, band, at):
    later = make_slot(band=band, sections=[section], at=at, hours=3)
    secret = feeds.make_feed(user=seat.student, band=band, at=at)

    def of(wanted: str) -> str:
        arguments = {
            "book-for": [assignment.pk, seat.pk],
            "calendar": [secret],
            **{name: [] for name in ("slots", "slots-new", "book", "calendar-new", "calendar-end")},
            **{name: [slot.pk] for name in ("slot", "slot-file", "slot-cancel", "slot-delete")},
            "slot-edit": [later.pk],
        }
        return reverse(f"submissions:{wanted}", args=arguments.get(wanted, [booking.pk]))

    return of


@pytest.fixture
def everybody(seat, section, substitute, director, sign_in) -> list[Client]:
    elsewhere = factories.make_band(name="Other")
    there = factories.make_section(band=elsewhere)
    return [
        Client(),
        sign_in(seat.student),
        sign_in(factories.make_seat(section=section).student),
        sign_in(factories.make_seat(section=there).student),
        sign_in(substitute.user),
        sign_in(director.user),
        sign_in(factories.make_staff(band=elsewhere, role=Role.DIRECTOR).user),
    ]


@pytest.mark.parametrize(("method", "name", "expected"), MATRIX, ids=[f"{m}-{n}" for m, n, _ in MATRIX])
def test_every_address_for_everybody(address, everybody, booking, director, at, method, name, expected):
    if name == "booking-return":
        posting = booking.assignment.postings.get()
        meeting.is_here(booking=booking, posting=posting, by=director.user, at=at)
    url = address(name)

    found = tuple(getattr(client, method)(url, **_body(method)).status_code for client in everybody)

    assert found == expected


def _body(method: str) -> dict[str, object]:
    # a form is never quite empty: it carries its token
    return {"data": {"csrfmiddlewaretoken": "x"}} if method == "post" else {}


@pytest.mark.parametrize("name", sorted({name for _, name, _ in MATRIX}))
def test_the_wrong_method_is_refused(address, everybody, name):
    allowed = {method for method, found, _ in MATRIX if found == name}

    for client in everybody:
        for method in {"get", "post"} - allowed:
            assert getattr(client, method)(address(name)).status_code == 405
        assert client.delete(address(name)).status_code == 405


def shows_meeting(client: Client, url: str) -> bool:
    """Whether any of the two stands anywhere in the page's source."""
    text = client.get(url).content.decode()
    assert (LINK in text) == (PASSCODE in text)
    return LINK in text


PAGES = ("slots", "slot")


@pytest.mark.parametrize("page", PAGES)
def test_link_and_passcode_are_for_who_booked(address, everybody, page):
    _, student, classmate, stranger, *_ = everybody

    assert shows_meeting(student, address(page))
    assert not shows_meeting(classmate, address(page))
    assert not shows_meeting(stranger, address(page))


def test_and_for_staff_on_the_page_of_the_time(address, everybody):
    *_, substitute, director, other_director = everybody

    assert shows_meeting(substitute, address("slot"))
    assert shows_meeting(director, address("slot"))
    assert not shows_meeting(other_director, address("slot"))


@pytest.mark.parametrize("page", PAGES)
def test_not_after_the_student_cancelled(address, everybody, booking, at, page):
    booking_services.cancel(booking=booking, at=at)

    assert not shows_meeting(everybody[1], address(page))


@pytest.mark.parametrize("page", PAGES)
def test_not_after_the_director_cancelled(address, everybody, slot, at, page):
    timetable.cancel_slot(slot=slot, at=at)

    assert not shows_meeting(everybody[1], address(page))


@pytest.mark.parametrize("state", [Booking.State.CAME, Booking.State.ABSENT])
@pytest.mark.parametrize("page", PAGES)
def test_not_once_the_student_came_or_stayed_away(address, everybody, booking, state, page):
    Booking.objects.update(state=state)

    assert not shows_meeting(everybody[1], address(page))


@pytest.mark.parametrize("page", PAGES)
def test_not_when_it_is_over(address, everybody, slot, page):
    with time_machine.travel(slot.ends_at, tick=False):
        assert not shows_meeting(everybody[1], address(page))


def test_not_when_it_was_moved_away(address, everybody, band, section, booking, at):
    elsewhere = make_slot(
        band=band, sections=[section], at=at, hours=2, link="", passcode="", place="Room 114"
    )
    booking_services.move(booking=booking, slot=elsewhere, at=at)

    assert not shows_meeting(everybody[1], address("slot"))
    assert not shows_meeting(everybody[1], address("slots"))


def test_a_link_that_got_into_the_database_some_other_way_is_no_link(address, everybody, slot):
    type(slot).objects.update(link="javascript:alert(1)")

    for client in everybody[1], everybody[5]:
        assert 'href="javascript' not in client.get(address("slot")).content.decode()
