"""The student's side: pick, move, cancel; each refusal one sentence on the page, nothing lost."""

from datetime import timedelta

import pytest
import time_machine
from django.urls import reverse

from bandroom.people.models import RecordingPermission
from submissions.checkins.services import booking as services
from submissions.checkins.services import timetable
from submissions.checkins.services.timetable import Where
from submissions.models import Booking, Routes, Slot
from tests import factories
from tests.submissions.checkins.conftest import ESCAPED, HTML, make_slot, refreshed

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("on_tuesday")]
LIST, BOOK = "/check-ins/", "/check-ins/book/"


def page(client, url=LIST) -> str:
    return client.get(url).content.decode()


def test_what_can_be_booked_is_shown_and_booking_leads_to_it(student, slot, assignment, seat):
    text = page(student, f"{LIST}?assignment={assignment.pk}")
    assert "Pick a time to play" in text
    assert f'name="slot" value="{slot.pk}"' in text

    response = student.post(BOOK, {"slot": slot.pk, "assignment": assignment.pk})

    assert (response.status_code, response.url) == (302, f"/check-ins/{slot.pk}/")
    booking = Booking.objects.get()
    assert (booking.seat, booking.assignment, booking.wants_help) == (seat, assignment, False)
    assert "It is yours" in page(student, response.url)


def test_for_help_alone_and_for_both(student, band, section, slot, assignment, at):
    second = make_slot(band=band, sections=[section], at=at, hours=2)

    student.post(BOOK, {"slot": slot.pk, "wants_help": "1"})
    student.post(BOOK, {"slot": second.pk, "assignment": assignment.pk, "wants_help": "on"})

    found = Booking.objects.order_by("slot__starts_at").values_list("assignment", "wants_help")
    assert list(found) == [(None, True), (assignment.pk, True)]


def test_it_says_that_live_counts_like_a_recording(student, slot, assignment):
    assert "Playing live counts just like a recording, with the same marks" in page(student)


def test_record_instead_is_offered_to_those_who_may(student, seat, slot, assignment):
    assert "Record instead" in page(student)
    seat.student.memberships.update(recording=RecordingPermission.REFUSED)
    assert "Record instead" not in page(student)


def test_times_for_something_else_or_somebody_else_are_not_shown(student, band, section, assignment, at):
    for_help = make_slot(band=band, sections=[section], at=at, purpose=Slot.Purpose.HELP)
    to_play = make_slot(band=band, sections=[section], at=at, purpose=Slot.Purpose.TURN_IN)
    others = make_slot(band=band, sections=[factories.make_section(band=band)], at=at)
    after_closing = make_slot(band=band, sections=[section], at=at, hours=24 * 7)
    cancelled = timetable.cancel_slot(slot=make_slot(band=band, sections=[section], at=at), at=at)

    def shown(query: str) -> set[Slot]:
        text = page(student, f"{LIST}?{query}")
        slots = (for_help, to_play, others, after_closing, cancelled)
        return {slot for slot in slots if f'name="slot" value="{slot.pk}"' in text}

    assert shown(f"assignment={assignment.pk}") == {to_play}
    assert shown("help=1") == {for_help, after_closing}


def test_a_time_that_has_begun_is_not_offered(student, slot, assignment):
    with time_machine.travel(slot.starts_at, tick=False):
        assert f'name="slot" value="{slot.pk}"' not in page(student)


def test_a_full_time_stands_there_as_taken(student, slot, section, assignment, at):
    other = factories.make_seat(section=section, student=factories.make_user(first_name="Odile"))
    services.book(slot=slot, seat=other, assignment=assignment, wants_help=False, at=at)

    text = page(student)

    assert "taken" in text
    assert "Odile" not in text


@pytest.mark.parametrize(
    ("what", "sentence"),
    [
        ("full", "The last place at this time is taken; choose another time."),
        ("past", "This time has started already; choose a later one."),
        ("cancelled", "Your director cancelled this time; choose another time."),
        ("deleted", "Your director took this time away; choose another time."),
        ("none", "Choose a time first."),
        ("nonsense", "Your director took this time away; choose another time."),
    ],
)
def test_each_refusal_is_one_sentence_on_the_page(student, slot, section, assignment, at, what, sentence):
    data = {"slot": slot.pk, "assignment": assignment.pk, "wants_help": "on"}
    clock = at
    match what:
        case "full":
            services.book(
                slot=slot, seat=factories.make_seat(section=section), assignment=None, wants_help=True, at=at
            )
        case "past":
            clock = slot.starts_at
        case "cancelled":
            timetable.cancel_slot(slot=slot, at=at)
        case "deleted":
            timetable.delete_slot(slot=slot)
        case "none":
            del data["slot"]
        case "nonsense":
            data["slot"] = HTML
    taken = list(Slot.objects.values_list("taken", flat=True))

    with time_machine.travel(clock, tick=False):
        response = student.post(BOOK, data)

    assert response.status_code == 409
    text = response.content.decode()
    assert sentence in text
    assert "Pick a time to play" in text
    assert list(Slot.objects.values_list("taken", flat=True)) == taken


def test_somebody_elses_assignment_is_nobodys(student, band, slot):
    theirs = factories.make_assignment(band=band, sections=[factories.make_section(band=band)])

    assert student.post(BOOK, {"slot": slot.pk, "assignment": theirs.pk}).status_code == 404
    assert student.post(BOOK, {"slot": slot.pk, "assignment": HTML}).status_code == 404


def test_without_a_seat_there_is_a_sentence(band, slot, seat, student, at):
    seat.until = at.date() - timedelta(days=1)
    seat.save(update_fields=["until"])

    response = student.post(BOOK, {"slot": slot.pk, "wants_help": "1"})

    assert response.status_code == 409
    assert "no seat in the band today" in response.content.decode()


def test_moving_shows_the_times_and_keeps_the_old_one_until_then(student, band, section, slot, booking, at):
    second = make_slot(band=band, sections=[section], at=at, hours=2)
    url = reverse("submissions:booking-move", args=[booking.pk])
    text = page(student, url)
    assert "You keep it until you have the new one" in text
    assert "yours" in text

    response = student.post(url, {"slot": second.pk})

    assert response.url == f"/check-ins/{second.pk}/"
    assert refreshed(booking).slot == second
    assert refreshed(slot).taken == 0


def test_a_move_that_fails_says_why(student, booking):
    url = reverse("submissions:booking-move", args=[booking.pk])

    response = student.post(url, {"slot": "9999"})

    assert response.status_code == 409
    assert "took this time away" in response.content.decode()
    assert "Move your time" in response.content.decode()


def test_with_a_time_for_it_the_page_leads_to_moving_and_to_what_else_is_open(
    student, band, section, slot, booking, assignment
):
    assert "You have a time for this already" in page(student)

    other = factories.make_assignment(band=band, sections=[section])

    assert f'name="assignment" value="{other.pk}"' in page(student)
    text = page(student, f"{LIST}?assignment={assignment.pk}")
    assert "You have a time for this already" in text
    assert 'name="slot"' not in text


def test_cancelling_frees_it(student, slot, booking):
    response = student.post(reverse("submissions:booking-cancel", args=[booking.pk]), follow=True)

    assert "Tuesday 6 October, 4:00 pm is free again for others." in response.content.decode()
    assert refreshed(slot).taken == 0


def test_cancelling_too_late_says_what_to_do(student, slot, booking):
    with time_machine.travel(slot.starts_at, tick=False):
        response = student.post(reverse("submissions:booking-cancel", args=[booking.pk]), follow=True)

    assert "tell your director if you cannot come" in response.content.decode()
    assert refreshed(booking).state == Booking.State.BOOKED


def test_what_the_director_cancelled_or_changed_is_seen(student, section, slot, booking, at):
    timetable.change_slot(
        slot=slot,
        starts_at=slot.starts_at + timedelta(minutes=10),
        ends_at=slot.ends_at + timedelta(minutes=10),
        capacity=1,
        where=Where(place="Room 114"),
        purpose=Slot.Purpose.EITHER,
        sections=[section],
        at=at + timedelta(seconds=1),
    )
    for url in (LIST, f"/check-ins/{slot.pk}/"):
        assert "Your director changed when or where this is" in page(student, url)

    timetable.cancel_slot(slot=slot, at=at)
    for url in (LIST, f"/check-ins/{slot.pk}/"):
        assert "Your director cancelled this time." in page(student, url)


def test_a_recording_only_assignment_leads_to_help(student, band, section, slot, seat):
    factories.make_assignment(band=band, sections=[section], routes=Routes.RECORDING)

    assert "Pick a time for help" in page(student)


@pytest.mark.parametrize(
    "query", ["assignment=999999", "assignment=x", "assignment=", f"assignment={'9' * 40}"]
)
def test_a_strange_address_shows_what_there_is(student, slot, assignment, query):
    assert "Pick a time to play" in page(student, f"{LIST}?{query}")


def test_html_in_places_is_text(student, band, section, assignment, seat, at):
    slot = make_slot(band=band, sections=[section], at=at, place=HTML, passcode=HTML[:60])
    services.book(slot=slot, seat=seat, assignment=assignment, wants_help=False, at=at)

    for url in (LIST, f"/check-ins/{slot.pk}/"):
        text = page(student, url)
        assert ESCAPED in text
        assert "<b onclick" not in text


@pytest.mark.parametrize("number", [1, 30])
def test_the_page_costs_the_same_for_one_time_and_for_thirty(
    student, band, section, assignment, at, django_assert_num_queries, number
):
    timetable.make_slots(
        band=band,
        sections=[section],
        first_starts_at=at + timedelta(hours=1),
        minutes=5,
        count=number,
        place="Room 114",
        at=at,
    )

    # session, user, membership, student; seats, postings, turn-ins; seats today, own bookings, times; feed
    with django_assert_num_queries(11):
        assert page(student).count('name="slot"') == number
