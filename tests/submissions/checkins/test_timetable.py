"""Times are made once, changed without losing who booked, cancelled where it is seen, deleted only empty."""

import uuid
from datetime import timedelta

import pytest

from submissions.checkins.services import booking as booking_services
from submissions.checkins.services import timetable
from submissions.checkins.services.timetable import Where
from submissions.errors import Refused
from submissions.models import Booking, Slot
from tests import factories
from tests.submissions.checkins.conftest import LINK, PASSCODE, make_slot, refreshed

pytestmark = pytest.mark.django_db
ROOM = Where(place="Room 114")


def changed(slot: Slot, at, **values) -> Slot:
    """`slot` changed in what `values` name alone."""
    return timetable.change_slot(
        slot=slot,
        at=at,
        **{
            "starts_at": slot.starts_at,
            "ends_at": slot.ends_at,
            "capacity": slot.capacity,
            "where": Where(place=slot.place, link=slot.link, passcode=slot.passcode),
            "purpose": Slot.Purpose(slot.purpose),
            "sections": list(slot.sections.all()),
        }
        | values,
    )


def test_a_series_is_made_for_its_sections(band, section, at):
    other = factories.make_section(band=band)

    made = timetable.make_slots(
        band=band,
        sections=[section, other],
        first_starts_at=at + timedelta(minutes=30),
        minutes=5,
        count=3,
        weeks=4,
        capacity=2,
        place=" Room 114 ",
        at=at,
    )

    assert len(made) == Slot.objects.count() == 12
    assert {slot.series for slot in made} == {made[0].series}
    assert {(slot.place, slot.capacity, slot.taken, slot.made_at) for slot in made} == {
        ("Room 114", 2, 0, at)
    }
    assert set(made[11].sections.all()) == {section, other}


def test_a_series_asked_for_twice_is_made_once(band, section, at):
    name = uuid.uuid4()
    asked = {"band": band, "sections": [section], "first_starts_at": at + timedelta(hours=1), "minutes": 5}

    first = timetable.make_slots(**asked, place="Room 114", series=name, at=at)
    second = timetable.make_slots(**asked, place="Room 114", series=name, at=at)

    assert [slot.pk for slot in first] == [slot.pk for slot in second]
    assert Slot.objects.count() == 1


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"place": "", "link": ""}, "Say where it is"),
        ({"link": "javascript:alert(1)"}, "beginning with https://"),
        ({"link": "ftp://files.school.example/"}, "beginning with https://"),
        ({"link": "meet.school.example"}, "beginning with https://"),
        ({"link": "https://meet.school.example/" + "a" * 500}, "Keep the link under 500"),
        ({"passcode": "1" * 61}, "Keep the passcode under 60"),
        ({"sections": []}, "at least one section"),
        ({"first_starts_at": timedelta(0)}, "has passed already"),
        ({"minutes": 0}, "from 1 to 180 minutes each"),
        ({"minutes": 181}, "from 1 to 180 minutes each"),
        ({"count": 31}, "from 1 to 30 times in a row"),
        ({"weeks": 41}, "from 1 to 40 weeks"),
        ({"capacity": 0}, "from 1 to 60 places"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_made(band, section, at, values, sentence):
    asked = {"sections": [section], "first_starts_at": timedelta(hours=1), "minutes": 5, "place": "Room 114"}
    asked |= values
    asked["first_starts_at"] += at

    with pytest.raises(Refused, match=sentence):
        timetable.make_slots(band=band, at=at, **asked)
    assert not Slot.objects.exists()


def test_another_bands_section_is_refused(band, at):
    stranger = factories.make_section(band=factories.make_band(name="Other"))

    with pytest.raises(Refused, match="sections of this band only"):
        make_slot(band=band, sections=[stranger], at=at)


def test_a_change_keeps_who_booked_and_is_counted_for_calendars(slot, booking, at):
    later = at + timedelta(minutes=1)

    changed(
        slot, later, starts_at=slot.starts_at + timedelta(hours=1), ends_at=slot.ends_at + timedelta(hours=1)
    )

    row = refreshed(slot)
    assert (row.sequence, row.changed_at, row.taken) == (1, later, 1)
    assert refreshed(booking).state == Booking.State.BOOKED


def test_more_places_are_no_change_of_when_or_where(slot, at):
    changed(slot, at, capacity=4)

    row = refreshed(slot)
    assert (row.capacity, row.sequence, row.changed_at) == (4, 0, None)


def test_a_new_meeting_link_goes_to_the_later_times_of_the_series_only(band, section, at):
    first, second, third = timetable.make_slots(
        band=band,
        sections=[section],
        first_starts_at=at + timedelta(hours=1),
        minutes=5,
        count=3,
        link=LINK,
        passcode=PASSCODE,
        at=at,
    )
    alone = make_slot(band=band, sections=[section], at=at, hours=5)

    changed(second, at, where=ROOM, where_for_the_rest=True)

    found = [
        (slot.place, slot.link, slot.passcode, slot.sequence)
        for slot in map(refreshed, (first, second, third, alone))
    ]
    assert found == [
        ("", LINK, PASSCODE, 0),
        ("Room 114", "", "", 1),
        ("Room 114", "", "", 1),
        ("", LINK, PASSCODE, 0),
    ]


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"capacity": 0}, "1 student has booked already; keep at least as many places"),
        ({"purpose": Slot.Purpose.HELP}, "booked it to turn in"),
        ({"sections": []}, "at least one section"),
        ({"where": Where()}, "Say where it is"),
        ({"where": Where(link="javascript:alert(1)")}, "beginning with https://"),
    ],
)
def test_a_change_that_would_hurt_who_booked_is_refused(slot, booking, at, values, sentence):
    with pytest.raises(Refused, match=sentence):
        changed(slot, at, **values)
    assert refreshed(slot).sequence == 0


def test_times_must_run_forward_and_lie_ahead(slot, at):
    with pytest.raises(Refused, match="would end before it starts"):
        changed(slot, at, ends_at=slot.starts_at)
    with pytest.raises(Refused, match="has passed already"):
        changed(slot, at, starts_at=at - timedelta(minutes=1))
    with pytest.raises(Refused, match="is over"):
        changed(slot, slot.ends_at)


def test_a_cancelled_time_stays_with_its_bookings(slot, booking, at):
    timetable.cancel_slot(slot=slot, at=at)
    timetable.cancel_slot(slot=slot, at=at + timedelta(minutes=1))

    row = refreshed(slot)
    assert (row.cancelled_at, row.sequence) == (at, 1)
    assert refreshed(booking).state == Booking.State.BOOKED
    with pytest.raises(Refused, match="is cancelled; make a new one"):
        changed(slot, at, capacity=3)


def test_what_is_over_or_has_been_met_cannot_be_cancelled(slot, booking, at):
    with pytest.raises(Refused, match="is over"):
        timetable.cancel_slot(slot=slot, at=slot.ends_at)
    Booking.objects.update(state=Booking.State.CAME)
    with pytest.raises(Refused, match="was here already"):
        timetable.cancel_slot(slot=slot, at=at)


def test_only_a_time_that_nobody_holds_is_deleted(slot, booking, at):
    with pytest.raises(Refused, match="cancel it instead"):
        timetable.delete_slot(slot=slot)

    booking_services.cancel(booking=booking, at=at)
    timetable.delete_slot(slot=slot)

    assert not Slot.objects.exists()
    with pytest.raises(Refused, match="deleted meanwhile"):
        timetable.delete_slot(slot=slot)
