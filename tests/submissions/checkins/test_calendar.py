"""iCalendar. Files are read back by `ics`, a second library that shares no code with the one that writes."""

import re
from datetime import UTC, datetime, timedelta

import ics
import pytest
import vobject
from django.test import Client
from django.urls import reverse

from bandroom.people.models import Membership, User
from submissions.checkins import feeds
from submissions.checkins.feeds import sha256_of
from submissions.checkins.services import booking as services
from submissions.checkins.services import timetable
from submissions.checkins.services.timetable import Where
from submissions.models import Booking, CalendarFeed, Slot
from tests import factories
from tests.submissions.checkins.conftest import HTML, LINK, PASSCODE, make_slot

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.usefixtures("on_tuesday"),
    # the reading library's own way to call re.split
    pytest.mark.filterwarnings("ignore:'maxsplit' is passed as positional:DeprecationWarning"),
]


def read(response) -> dict[str, ics.Event]:
    """Events of an answer, by the name of the event."""
    assert response.status_code == 200
    assert response["Content-Type"] == "text/calendar; charset=utf-8"
    return {event.name: event for event in ics.Calendar(response.content.decode()).events}


def line(response, name: str) -> list[str]:
    """The values of one property as they stand in the file, unfolded (RFC 5545, 3.1)."""
    text = response.content.decode().replace("\r\n ", "")
    return re.findall(rf"^{name}[:;](.*)\r$", text, re.MULTILINE)


@pytest.fixture
def feed_of(band, at):
    def address(user: User) -> str:
        return reverse("submissions:calendar", args=[feeds.make_feed(user=user, band=band, at=at)])

    return address


@pytest.fixture
def program() -> Client:
    """A calendar program: no session, no cookies."""
    return Client()


def test_a_students_booking_is_an_event_in_utc(booking, student, slot):
    response = student.get(reverse("submissions:slot-file", args=[slot.pk]))

    (event,) = read(response).values()
    assert event.name == "Check-in: play No. 1, Stepping Stones"
    assert event.begin.datetime == datetime(2026, 10, 6, 21, 0, tzinfo=UTC)  # 4 pm in Chicago
    assert event.end.datetime == datetime(2026, 10, 6, 21, 5, tzinfo=UTC)
    assert (event.status, event.location) == ("CONFIRMED", "By video")
    assert event.url == f"http://testserver/check-ins/{slot.pk}/"
    assert line(response, "DTSTART") == ["20261006T210000Z"]
    assert line(response, "SEQUENCE") == ["0"]
    assert response["Content-Disposition"] == 'attachment; filename="check-in.ics"'


def test_every_line_is_as_the_standard_asks(booking, student, slot):
    """RFC 5545: CRLF, lines of at most 75 octets, required properties."""
    content = student.get(reverse("submissions:slot-file", args=[slot.pk])).content

    assert content.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in content.replace(b"\r\n", b"")
    assert max(len(part) for part in content.split(b"\r\n")) <= 75
    for name in (b"VERSION:2.0", b"PRODID:", b"UID:", b"DTSTAMP:"):
        assert name in content


def test_no_link_no_passcode_and_no_other_name_is_in_it(
    band, section, seat, assignment, at, program, feed_of
):
    slot = make_slot(band=band, sections=[section], at=at, capacity=2)
    other = factories.make_seat(section=section, student=factories.make_user(first_name="Odile"))
    for one in (seat, other):
        services.book(slot=slot, seat=one, assignment=assignment, wants_help=False, at=at)

    text = program.get(feed_of(seat.student)).content.decode().replace("\r\n ", "")

    assert LINK not in text
    assert PASSCODE not in text
    assert "Odile" not in text


def test_staff_see_first_names_only(booking, section, assignment, slot, at, program, feed_of, director):
    Slot.objects.update(capacity=2)
    other = factories.make_seat(
        section=section, student=factories.make_user(first_name="Odile", last_name="Marchetti-Kline")
    )
    services.book(slot=slot, seat=other, assignment=assignment, wants_help=False, at=at)

    response = program.get(feed_of(director.user))

    assert set(read(response)) == {"Check-in: Ada, Odile"}
    text = response.content.decode().replace("\r\n ", "")
    for secret in ("Marchetti", booking.seat.student.last_name, LINK, PASSCODE):
        assert secret not in text


def test_an_empty_time_is_there_for_staff_and_not_for_students(slot, seat, program, feed_of, director):
    assert set(read(program.get(feed_of(director.user)))) == {"Check-in: nobody yet"}
    assert read(program.get(feed_of(seat.student))) == {}


def test_a_moved_booking_is_the_same_event_with_a_higher_sequence(
    band, section, booking, slot, seat, at, program, feed_of
):
    address = feed_of(seat.student)
    before = program.get(address)
    second = make_slot(band=band, sections=[section], at=at, hours=2)

    services.move(booking=booking, slot=second, at=at)
    after = program.get(address)

    assert line(before, "UID") == line(after, "UID")
    assert (line(before, "SEQUENCE"), line(after, "SEQUENCE")) == (["0"], ["1"])
    assert line(after, "DTSTART") == ["20261006T220000Z"]


def test_sequence_never_goes_back_whatever_happens(band, section, booking, slot, seat, at, program, feed_of):
    address = feed_of(seat.student)
    quiet = make_slot(band=band, sections=[section], at=at, hours=3)
    found = []

    def look() -> None:
        found.extend(int(number) for number in line(program.get(address), "SEQUENCE"))

    look()
    for minutes in (1, 2):
        timetable.change_slot(
            slot=slot,
            starts_at=slot.starts_at + timedelta(minutes=minutes),
            ends_at=slot.ends_at + timedelta(minutes=minutes),
            capacity=1,
            where=Where(link=LINK),
            purpose=Slot.Purpose.EITHER,
            sections=[section],
            at=at,
        )
        look()
    services.move(booking=booking, slot=quiet, at=at)
    look()
    services.cancel(booking=booking, at=at)
    look()

    assert found == [0, 1, 2, 3, 4]


def test_what_a_student_cancelled_stays_as_cancelled(booking, seat, slot, at, program, feed_of):
    services.cancel(booking=booking, at=at)

    response = program.get(feed_of(seat.student))

    (event,) = read(response).values()
    assert event.status == "CANCELLED"
    assert line(response, "SEQUENCE") == ["1"]


def test_what_the_director_cancelled_is_cancelled_for_everybody(
    booking, seat, slot, at, program, feed_of, director
):
    timetable.cancel_slot(slot=slot, at=at)

    for user in (seat.student, director.user):
        response = program.get(feed_of(user))
        assert [event.status for event in read(response).values()] == ["CANCELLED"]
        assert line(response, "SEQUENCE") == ["1"]


def test_text_cannot_break_out_of_its_property(band, section, seat, assignment, at, program, feed_of):
    """RFC 5545, 3.3.11: comma, semicolon, backslash and line breaks are escaped in text."""
    place = "Room 1, door; left\\right\r\nBEGIN:VALARM"
    slot = make_slot(band=band, sections=[section], at=at, link="", passcode="", place=place)
    services.book(slot=slot, seat=seat, assignment=assignment, wants_help=True, at=at)

    response = program.get(feed_of(seat.student))

    # read by a third library, since `ics` takes an escaped backslash before an r for a line break
    event = vobject.readOne(response.content.decode()).vevent
    assert event.location.value == place.replace("\r\n", "\n")
    assert event.summary.value == "Check-in: play No. 1, Stepping Stones and help"
    assert b"\r\nBEGIN:VALARM" not in response.content


def test_the_address_is_shown_once_and_stored_as_a_hash_only(student, seat, band):
    page = student.post(reverse("submissions:calendar-new"))

    (secret,) = re.findall(r"http://testserver/calendar/([\w-]{43})\.ics", page.content.decode())
    assert page["Cache-Control"] == "no-store, private"
    feed = CalendarFeed.objects.get(user=seat.student, band=band)
    assert feed.secret_sha256 == sha256_of(secret)
    assert secret not in student.get(reverse("submissions:slots")).content.decode()


def test_a_new_address_ends_the_old_one_and_an_ended_one_is_gone(student, seat, program, feed_of):
    old = feed_of(seat.student)
    new = feed_of(seat.student)

    assert (program.get(old).status_code, program.get(new).status_code) == (404, 200)
    assert student.post(reverse("submissions:calendar-end")).status_code == 302
    assert program.get(new).status_code == 404
    assert CalendarFeed.objects.count() == 0


@pytest.mark.parametrize("secret", ["x", "x" * 43, "../../etc/passwd", "%00", HTML])
def test_an_unknown_secret_is_nothing(program, secret):
    assert program.get(f"/calendar/{secret}.ics").status_code == 404


def test_the_hash_is_no_key(program, feed_of, seat):
    feed_of(seat.student)
    stored = CalendarFeed.objects.get().secret_sha256

    assert program.get(reverse("submissions:calendar", args=[stored])).status_code == 404


def test_who_left_the_band_has_no_calendar_any_more(program, seat, feed_of, at):
    address = feed_of(seat.student)
    Membership.objects.update(ended_at=at)

    assert program.get(address).status_code == 404


def test_a_calendar_program_gets_no_cookie(program, seat, feed_of):
    response = program.get(feed_of(seat.student))

    assert response.cookies == {}
    assert program.post(feed_of(seat.student)).status_code == 405


def test_another_band_is_never_in_it(seat, program, feed_of, director, at):
    elsewhere = factories.make_band(name="Other")
    make_slot(band=elsewhere, sections=[factories.make_section(band=elsewhere)], at=at)

    assert read(program.get(feed_of(director.user))) == {}


@pytest.mark.parametrize("number", [1, 30])
@pytest.mark.parametrize("who", ["director", "student"])
def test_a_feed_costs_the_same_however_much_is_in_it(
    band, section, seat, director, at, program, feed_of, django_assert_num_queries, number, who
):
    for slot in timetable.make_slots(
        band=band,
        sections=[section],
        first_starts_at=at + timedelta(hours=1),
        minutes=5,
        count=number,
        place="Room 114",
        at=at,
    ):
        Booking.objects.create(slot=slot, seat=seat, wants_help=True, booked_at=at, changed_at=at)
    address = feed_of(director.user if who == "director" else seat.student)

    # the feed, the membership, the times; for staff also who booked
    with django_assert_num_queries(4 if who == "director" else 3):
        assert program.get(address).content.count(b"BEGIN:VEVENT") == number
