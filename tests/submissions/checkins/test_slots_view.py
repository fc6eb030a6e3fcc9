"""The staff's list: who comes when, what came of it, who still needs a time."""

from datetime import timedelta

import pytest
import time_machine
from django.urls import reverse

from bandroom.people.models import RecordingPermission
from submissions.checkins.services import booking as services
from submissions.checkins.services import meeting, timetable
from submissions.models import Booking, Routes
from submissions.turn_ins import services as turn_ins
from tests import factories
from tests.submissions.checkins.conftest import ESCAPED, HTML, make_slot

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("on_tuesday")]
LIST = "/check-ins/"


def page(client, url=LIST) -> str:
    return client.get(url).content.decode()


def test_a_day_with_who_is_booked_and_what_is_open(staff, band, section, booking, at):
    make_slot(band=band, sections=[section], at=at, hours=2)

    text = page(staff)

    assert "Tuesday 6 October, by video" in text
    assert booking.seat.student.full_name in text
    assert "Open Tuesday 4:00 pm" in text
    assert text.count("<span>open</span>") == 1


def test_times_of_one_series_and_day_stand_together(staff, band, section, at):
    timetable.make_slots(
        band=band,
        sections=[section],
        first_starts_at=at + timedelta(hours=1),
        minutes=5,
        count=3,
        weeks=2,
        place="Room 114",
        at=at,
    )

    assert page(staff).count('class="day"') == 2


def test_what_came_of_it_stands_with_the_name(staff, slot, booking, seat, assignment, director):
    with time_machine.travel(slot.starts_at, tick=False):
        meeting.did_not_come(booking=booking, at=slot.starts_at)
        assert "did not come" in page(staff)

        Booking.objects.update(state=Booking.State.BOOKED)
        posting = assignment.postings.get()
        meeting.is_here(booking=booking, posting=posting, by=director.user, at=slot.starts_at)
        assert "here, marks not returned" in page(staff)


def test_four_weeks_at_a_time(staff, band, section, at):
    make_slot(band=band, sections=[section], at=at, hours=24 * 30, place="Room far ahead")

    assert "Room far ahead" not in page(staff)
    assert "Room far ahead" in page(staff, f"{LIST}?from=2026-11-02")
    for nonsense in ("x", "2026-13-40", "9999-12-31", "0001-01-01", HTML):
        assert "5 October to 1 November" in page(staff, f"{LIST}?from={nonsense}")


def test_who_may_not_record_is_named_until_booked(staff, band, section, slot, assignment, at):
    quiet = factories.make_seat(
        section=section,
        student=factories.make_user(first_name="Odile"),
        recording=RecordingPermission.PENDING,
    )
    assert "no permission to record, so live is the way" in page(staff)

    services.book(slot=slot, seat=quiet, assignment=assignment, wants_help=False, at=at)

    text = page(staff)
    assert "no permission to record" not in text
    assert "no recording" in text  # with the booking itself


def test_who_did_not_come_is_named_again_and_who_turned_in_is_not(
    staff, seat, slot, booking, assignment, director, at
):
    with time_machine.travel(slot.ends_at, tick=False):
        meeting.did_not_come(booking=booking, at=slot.starts_at)
        assert "did not come on Tuesday" in page(staff)

        posting = assignment.postings.select_related("assignment").get()
        turn_ins.open_live(seat=seat, posting=posting, by=director.user, at=slot.ends_at)
        assert "did not come on Tuesday" not in page(staff)


def test_when_live_is_the_only_way_everybody_needs_a_time(staff, band, section, seat):
    factories.make_assignment(band=band, sections=[section], routes=Routes.CHECK_IN)

    assert "played live by everybody" in page(staff)


def test_a_student_who_left_before_it_was_due_needs_none(staff, band, section, at):
    factories.make_assignment(band=band, sections=[section], routes=Routes.CHECK_IN)
    factories.make_seat(section=section, until=at.date() - timedelta(days=1))

    assert "played live by everybody" not in page(staff)


def test_a_director_offers_a_time_and_the_student_has_it(staff, student, slot, seat, assignment):
    url = reverse("submissions:book-for", args=[assignment.pk, seat.pk])
    assert "A time for Ada" in page(staff, url)

    response = staff.post(url, {"slot": slot.pk})

    assert response.status_code == 302
    assert Booking.objects.get().seat == seat
    assert "Your time" in page(student)


def test_a_time_that_is_gone_is_said_and_nothing_is_booked(staff, section, slot, seat, assignment, at):
    services.book(
        slot=slot, seat=factories.make_seat(section=section), assignment=assignment, wants_help=False, at=at
    )
    url = reverse("submissions:book-for", args=[assignment.pk, seat.pk])

    full, none, gone = (staff.post(url, data) for data in ({"slot": slot.pk}, {"x": "y"}, {"slot": "9999"}))

    assert [response.status_code for response in (full, none, gone)] == [409, 409, 409]
    assert "last place at this time is taken" in full.content.decode()
    assert "Choose a time first." in none.content.decode()
    assert "took this time away" in gone.content.decode()


def test_a_substitute_sees_the_list_without_what_only_directors_do(substitute, sign_in, slot):
    text = page(sign_in(substitute.user))

    assert "4:00 pm" in text
    assert "Add times" not in text


def test_html_in_names_and_places_is_text(staff, band, section, at, assignment):
    slot = make_slot(band=band, sections=[section], at=at, place=HTML)
    student = factories.make_user(first_name=HTML, last_name=HTML)
    quiet = factories.make_seat(section=section, student=student, recording=RecordingPermission.REFUSED)
    assert ESCAPED in page(staff)
    services.book(slot=slot, seat=quiet, assignment=assignment, wants_help=False, at=at)

    for url in (LIST, f"{LIST}{slot.pk}/", f"{LIST}{slot.pk}/edit/"):
        text = page(staff, url)
        assert ESCAPED in text
        assert "<b onclick" not in text


@pytest.mark.parametrize("number", [1, 30])
def test_the_list_costs_the_same_for_one_and_for_thirty(
    staff, band, section, assignment, at, django_assert_num_queries, number
):
    slots = timetable.make_slots(
        band=band,
        sections=[section],
        first_starts_at=at + timedelta(hours=1),
        minutes=5,
        count=number,
        place="Room 114",
        at=at,
    )
    for slot in slots:
        seat = factories.make_seat(section=section)
        services.book(slot=slot, seat=seat, assignment=assignment, wants_help=False, at=at)
        factories.make_seat(section=section, recording=RecordingPermission.PENDING)

    # session, user, membership; times, bookings, turn-ins, recording; next; postings, turn-ins, bookings,
    # recording, seats; feed
    with django_assert_num_queries(14):
        assert page(staff).count("slot__slip") == number
