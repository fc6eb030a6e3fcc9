"""The director's forms: what is shown before it is made, what is made, and each problem at its own box."""

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse

from submissions.models import Booking, Slot
from tests import factories
from tests.submissions.checkins.conftest import LINK, make_slot, refreshed

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("on_tuesday")]
NEW = "/check-ins/new/"


@pytest.fixture
def filled(section) -> dict[str, object]:
    """Every Tuesday at 3:30 pm, three times five minutes, for two weeks."""
    return {
        "series": str(uuid.uuid4()),
        "day": "2026-10-27",
        "clock": "15:30",
        "minutes": "5",
        "count": "3",
        "weeks": "2",
        "capacity": "2",
        "place": "Room 114",
        "link": "",
        "passcode": "",
        "purpose": "either",
        "sections": [section.pk],
        "do": "make",
    }


def test_the_form_is_filled_for_the_next_tuesday_and_every_section(staff, band, section):
    text = staff.get(NEW).content.decode()

    assert 'value="2026-10-13"' in text  # a week from this Tuesday
    assert 'value="15:30"' in text
    assert str(section) in text


def test_place_and_link_of_the_last_times_are_there_already(staff, slot):
    assert LINK in staff.get(NEW).content.decode()


def test_a_series_is_made_over_the_end_of_summer_time(staff, band, filled):
    response = staff.post(NEW, filled, follow=True)

    assert "6 times are open to book, from Tuesday 27 October, 3:30 pm." in response.content.decode()
    found = [f"{band.local(slot.starts_at):%m-%d %H:%M}" for slot in Slot.objects.all()]
    assert found == ["10-27 15:30", "10-27 15:35", "10-27 15:40", "11-03 15:30", "11-03 15:35", "11-03 15:40"]
    assert set(Slot.objects.values_list("capacity", "place", "purpose")) == {(2, "Room 114", "either")}


def test_the_same_form_sent_twice_makes_them_once(staff, filled):
    staff.post(NEW, filled)
    staff.post(NEW, filled)

    assert Slot.objects.count() == 6


def test_the_times_are_shown_before_they_are_made(staff, filled):
    response = staff.post(NEW, filled | {"do": "show"})

    text = response.content.decode()
    assert response.status_code == 200
    assert "6 times on 2 days." in text
    assert "Tuesday 27 October" in text
    assert "3:40 pm" in text
    assert not Slot.objects.exists()


def test_a_time_that_cannot_be_is_said_where_the_times_would_stand(staff, filled):
    response = staff.post(NEW, filled | {"do": "show", "minutes": "0"})

    assert response.status_code == 200
    assert "Minutes each: Choose a number from 1 to 180." in response.content.decode()


@pytest.mark.parametrize(
    ("name", "value", "sentence"),
    [
        ("day", "", "Choose a day."),
        ("day", "next week", "Write the day like 2026-12-01."),
        ("day", "2026-10-05", "The first time has passed already; choose a later one."),
        ("day", "1026-10-27", "Look at the year again."),
        ("clock", "25:00", "Write the time like 15:30."),
        ("minutes", "five", "Choose a number from 1 to 180."),
        ("minutes", "181", "Choose a number from 1 to 180."),
        ("count", "31", "Choose a number from 1 to 30."),
        ("weeks", "0", "Choose a number from 1 to 40."),
        ("capacity", "-1", "Choose a number from 1 to 60."),
        ("place", "", "Say where it is: a place, a meeting link, or both."),
        ("place", "x" * 121, "Keep the place under 120 characters."),
        ("link", "javascript:alert(1)", "Write the whole address of the meeting, beginning with https://."),
        (
            "link",
            "meet.school.example/band",
            "Write the whole address of the meeting, beginning with https://.",
        ),
        ("passcode", "x" * 61, "Keep the passcode under 60 characters."),
        ("sections", [], "Choose at least one section that can book."),
    ],
)
def test_each_problem_is_a_sentence_and_what_was_written_stays(staff, filled, name, value, sentence):
    response = staff.post(NEW, filled | {name: value})

    assert response.status_code == 422
    text = response.content.decode()
    assert sentence in text
    if name != "capacity":
        assert 'name="capacity" value="2"' in text
    assert not Slot.objects.exists()


def test_a_time_that_the_clock_jumps_over_is_refused(staff, filled):
    response = staff.post(NEW, filled | {"day": "2027-03-14", "clock": "02:30"})

    assert response.status_code == 422
    assert "so there is no 2:30 am; choose 3:00 am or later" in response.content.decode()


def test_another_bands_section_cannot_be_chosen(staff, filled):
    stranger = factories.make_section(band=factories.make_band(name="Other"))

    assert staff.post(NEW, filled | {"sections": [stranger.pk]}).status_code == 422
    assert not Slot.objects.exists()


@pytest.fixture
def as_it_is(slot, section) -> dict[str, object]:
    return {
        "starts": "2026-10-06T16:00",
        "minutes": "5",
        "capacity": "1",
        "place": "",
        "link": LINK,
        "passcode": "two-flats-9",
        "purpose": "either",
        "sections": [section.pk],
    }


def test_one_time_is_changed_and_who_booked_keeps_it(staff, slot, booking, as_it_is):
    url = reverse("submissions:slot-edit", args=[slot.pk])
    assert 'value="2026-10-06T16:00"' in staff.get(url).content.decode()

    response = staff.post(url, as_it_is | {"starts": "2026-10-06T17:00", "minutes": "10", "capacity": "3"})

    assert response.status_code == 302
    row = refreshed(slot)
    assert (row.minutes, row.capacity, row.taken) == (10, 3, 1)
    assert f"{slot.band.local(row.starts_at):%H:%M}" == "17:00"


def test_a_change_that_hurts_says_so_over_the_form(staff, band, section, slot, booking, as_it_is):
    response = staff.post(
        reverse("submissions:slot-edit", args=[slot.pk]), as_it_is | {"purpose": "help", "place": "Room 9"}
    )

    assert response.status_code == 422
    assert "booked it to turn in" in response.content.decode()
    assert "Room 9" in response.content.decode()
    assert refreshed(slot).purpose == "either"


def test_the_rest_of_the_series_follows_when_it_is_asked_for(staff, filled, as_it_is):
    staff.post(NEW, filled)
    third, *_, last = Slot.objects.filter(place="Room 114")[2:]
    starts = f"{third.band.local(third.starts_at):%Y-%m-%dT%H:%M}"

    staff.post(
        reverse("submissions:slot-edit", args=[third.pk]),
        as_it_is | {"starts": starts, "where_for_the_rest": "on"},
    )

    assert refreshed(last).link == LINK
    assert Slot.objects.filter(place="Room 114").count() == 2


def test_cancelling_and_deleting_say_what_they_did(staff, band, section, slot, booking, at):
    cancel = reverse("submissions:slot-cancel", args=[slot.pk])
    delete = reverse("submissions:slot-delete", args=[slot.pk])
    empty = make_slot(band=band, sections=[section], at=at, hours=2)

    assert "cancel it instead" in staff.post(delete, follow=True).content.decode()
    assert (
        "is cancelled. Students who booked it see that." in staff.post(cancel, follow=True).content.decode()
    )
    gone = staff.post(reverse("submissions:slot-delete", args=[empty.pk]), follow=True)
    assert "is deleted; nobody had booked it." in gone.content.decode()
    assert list(Slot.objects.all()) == [slot]
    assert Booking.objects.count() == 1


def test_what_is_over_cannot_be_cancelled(staff, slot):
    Slot.objects.update(
        starts_at=slot.starts_at - timedelta(days=1), ends_at=slot.ends_at - timedelta(days=1)
    )

    response = staff.post(reverse("submissions:slot-cancel", args=[slot.pk]), follow=True)

    assert "This time is over, so it stays as it was." in response.content.decode()
