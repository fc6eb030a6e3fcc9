"""Sections, and who sits in them from when until when."""

from datetime import date, datetime, timedelta

import pytest
import time_machine
from django.urls import reverse

from bandroom.people.errors import Refused
from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Membership, Seat, Section
from bandroom.people.services.seats import change_seat, end_seat, take_seat
from bandroom.people.services.sections import (
    DOWN,
    UP,
    add_section,
    change_section,
    move_section,
    remove_section,
)
from tests import factories

pytestmark = pytest.mark.django_db
TODAY = date(2026, 10, 6)


def names(band: Band) -> list[str]:
    return [str(section) for section in Section.objects.filter(band=band)]


def test_sections_stand_by_period_in_the_order_they_were_added(band: Band) -> None:
    for name, period in (("Tuba", "2"), ("Flute", "2"), ("Oboe", "1")):
        add_section(band=band, name=name, period=period)
    assert names(band) == ["Oboe, period 1", "Tuba, period 2", "Flute, period 2"]


def test_moving_a_section_changes_places_within_its_period(band: Band) -> None:
    tuba, flute, horn = (add_section(band=band, name=name, period="2") for name in ("Tuba", "Flute", "Horn"))
    add_section(band=band, name="Oboe", period="1")
    move_section(section=horn, by=UP)
    assert names(band)[1:] == ["Tuba, period 2", "Horn, period 2", "Flute, period 2"]
    move_section(section=tuba, by=DOWN)
    assert names(band)[1:] == ["Horn, period 2", "Tuba, period 2", "Flute, period 2"]
    move_section(section=flute, by=DOWN)  # it is the last already
    assert names(band)[1:] == ["Horn, period 2", "Tuba, period 2", "Flute, period 2"]


def test_one_name_once_a_period(band: Band) -> None:
    add_section(band=band, name="Flute", period="2")
    other = add_section(band=band, name="Flute", period="5")
    with pytest.raises(Refused, match="There is a section Flute in period 2 already"):
        add_section(band=band, name="Flute", period="2")
    with pytest.raises(Refused, match="already"):
        change_section(section=other, name="Flute", period="2")
    assert str(other) == "Flute, period 5"


def test_a_section_with_history_is_kept(section: Section, seat: Seat) -> None:
    end_seat(seat=seat, last_day=TODAY)
    with pytest.raises(Refused, match="their history is kept"):
        remove_section(section=section)
    assert Section.objects.filter(pk=section.pk).exists()


def test_an_empty_section_can_go(section: Section) -> None:
    remove_section(section=section)
    assert not Section.objects.exists()


def test_another_instrument_ends_the_old_seat_and_opens_a_new_one(section: Section, seat: Seat) -> None:
    new = change_seat(seat=seat, section=section, instrument=Instrument.BARITONE_TC, on=TODAY)
    seat.refresh_from_db()
    assert (seat.instrument, seat.until) == ("clarinet", TODAY - timedelta(days=1))
    assert (new.instrument, new.since, new.until) == ("baritone_tc", TODAY, None)
    assert [s.instrument for s in Seat.objects.on(TODAY)] == ["baritone_tc"]
    assert [s.instrument for s in Seat.objects.on(TODAY - timedelta(days=1))] == ["clarinet"]


def test_a_seat_that_began_the_same_day_is_put_right_in_place(section: Section) -> None:
    seat = factories.make_seat(section=section, since=TODAY)
    changed = change_seat(seat=seat, section=section, instrument=Instrument.OBOE, on=TODAY)
    assert changed.pk == seat.pk
    assert Seat.objects.get().instrument == "oboe"


def test_the_same_seat_again_changes_nothing(section: Section, seat: Seat) -> None:
    assert change_seat(seat=seat, section=section, instrument=Instrument.CLARINET, on=TODAY) == seat
    assert Seat.objects.count() == 1


def test_a_seat_cannot_change_before_it_began(section: Section) -> None:
    seat = factories.make_seat(section=section, since=TODAY)
    with pytest.raises(Refused, match="began on 6 October 2026"):
        change_seat(seat=seat, section=section, instrument=Instrument.OBOE, on=TODAY - timedelta(days=1))


def test_moving_into_a_section_where_one_sits_already_changes_nothing(band: Band, seat: Seat) -> None:
    other = factories.make_section(band=band)
    take_seat(student=seat.student, section=other, instrument=Instrument.BELLS, since=TODAY)
    with pytest.raises(Refused, match=r"has a seat in .* already"):
        change_seat(seat=seat, section=other, instrument=Instrument.OBOE, on=TODAY)
    seat.refresh_from_db()
    assert seat.until is None


def test_of_two_changes_at_once_the_second_is_refused(section: Section, seat: Seat) -> None:
    stale = Seat.objects.get(pk=seat.pk)
    change_seat(seat=seat, section=section, instrument=Instrument.OBOE, on=TODAY)
    with pytest.raises(Refused, match="in the meantime"):
        change_seat(seat=stale, section=section, instrument=Instrument.TUBA, on=TODAY)
    assert sorted(Seat.objects.values_list("instrument", flat=True)) == ["clarinet", "oboe"]


def test_ending_a_seat_keeps_its_last_day(seat: Seat) -> None:
    end_seat(seat=seat, last_day=TODAY)
    assert Seat.objects.on(TODAY).count() == 1
    assert Seat.objects.on(TODAY + timedelta(days=1)).count() == 0
    with pytest.raises(Refused, match="in the meantime"):
        end_seat(seat=seat, last_day=TODAY)


# The pages


def test_the_director_changes_a_seat_on_the_students_page(
    sign_in, director: Membership, seat: Seat, at: datetime
) -> None:
    other = factories.make_section(band=director.band, name="Low brass")
    field = f"seat{seat.pk}"
    with time_machine.travel(at, tick=False):
        answer = sign_in(director.user).post(
            reverse("people:seat-change", args=[seat.pk]),
            {f"{field}-section": other.pk, f"{field}-instrument": "trombone", f"{field}-on": "2026-10-01"},
            follow=True,
        )
    page = answer.content.decode()
    assert "plays Trombone in Low brass" in page
    assert "24 August 2026 to 30 September 2026" in page


@pytest.mark.parametrize(
    ("on", "says"),
    [
        ("2026-10-07", "Choose today or an earlier day."),
        ("2026-08-01", "This seat began on"),
        ("soon", "Enter a valid date"),
    ],
)
def test_a_day_that_cannot_be_is_refused_in_words(
    sign_in, director: Membership, seat: Seat, at: datetime, on: str, says: str
) -> None:
    field = f"seat{seat.pk}"
    with time_machine.travel(at, tick=False):
        answer = sign_in(director.user).post(
            reverse("people:seat-change", args=[seat.pk]),
            {f"{field}-section": seat.section_id, f"{field}-instrument": "oboe", f"{field}-on": on},
            follow=True,
        )
    assert says in answer.content.decode()
    assert Seat.objects.get().instrument == "clarinet"


def test_a_section_of_another_band_is_no_choice(sign_in, director: Membership, seat: Seat) -> None:
    elsewhere = factories.make_section(band=factories.make_band(name="Jazz Band"))
    field = f"seat{seat.pk}"
    answer = sign_in(director.user).post(
        reverse("people:seat-change", args=[seat.pk]),
        {f"{field}-section": elsewhere.pk, f"{field}-instrument": "oboe", f"{field}-on": "2026-10-01"},
    )
    assert answer.status_code == 422
    assert Seat.objects.get().section == seat.section


def test_a_second_seat_and_its_end(sign_in, director: Membership, seat: Seat) -> None:
    other = factories.make_section(band=director.band, name="Percussion")
    student = seat.student.memberships.get()
    client = sign_in(director.user)
    client.post(
        reverse("people:seat-new", args=[student.pk]), {"new-section": other.pk, "new-instrument": "bells"}
    )
    assert Seat.objects.filter(student=seat.student, until=None).count() == 2
    client.post(reverse("people:seat-end", args=[seat.pk]))
    assert [s.instrument for s in Seat.objects.filter(until=None)] == ["bells"]


def test_sections_are_kept_on_their_own_page(sign_in, director: Membership) -> None:
    client = sign_in(director.user)
    assert client.post(reverse("people:section-new"), {"name": "Low brass", "period": "2"}).status_code == 302
    section = Section.objects.get()
    twice = client.post(reverse("people:section-new"), {"name": "Low brass", "period": "2"})
    assert (twice.status_code, "in period 2 already" in twice.content.decode()) == (422, True)
    url = reverse("people:section", args=[section.pk])
    client.post(url, {"name": "<b>Low</b>", "period": "5"})
    assert "&lt;b&gt;Low&lt;/b&gt;, period 5" in client.get(url).content.decode()
    assert (
        client.post(reverse("people:section-move", args=[section.pk]), {"way": "sideways"}).status_code == 404
    )
    assert client.post(reverse("people:section-move", args=[section.pk]), {"way": "up"}).status_code == 302
    client.post(reverse("people:section-remove", args=[section.pk]))
    assert not Section.objects.exists()


def test_the_band_keeps_its_settings(sign_in, director: Membership) -> None:
    client = sign_in(director.user)
    typed = {
        "name": "Harrow Bend Winds",
        "school": "Harrow Bend",
        "time_zone": "America/Denver",
        "starts": "2026-08-17",
        "ends": "2027-06-04",
    }
    assert client.post(reverse("people:settings"), typed).status_code == 302
    band = Band.objects.get()
    assert (band.name, band.time_zone, band.school_year_ends) == (
        "Harrow Bend Winds",
        "America/Denver",
        date(2027, 6, 4),
    )
    wrong = client.post(
        reverse("people:settings"), typed | {"ends": "2026-08-01", "time_zone": "Mars/Olympus"}
    )
    assert wrong.status_code == 422
    assert "The school year must end after it starts." in wrong.content.decode()
    assert Band.objects.get().time_zone == "America/Denver"
