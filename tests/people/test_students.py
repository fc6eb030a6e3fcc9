"""Students: added, renamed, allowed to record, let go and taken back; the pages that show them."""

from datetime import datetime

import pytest
from django.urls import reverse

from bandroom.people.errors import Refused
from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Membership, RecordingPermission, Seat, Section, User
from bandroom.people.queries import band_now, places_of
from bandroom.people.services.students import come_back, create_student, leave_band, set_recording
from tests import factories
from tests.people.issuing import issue_cards

pytestmark = pytest.mark.django_db
BAND = reverse("people:band")


def test_a_new_student_waits_for_a_card_and_for_permission_to_record(
    band: Band, section: Section, at: datetime
) -> None:
    membership = create_student(
        band=band, first_name="Amaru", last_name="Vee", section=section, instrument=Instrument.FLUTE, at=at
    )
    assert membership.user.sign_in_name.startswith("amaru-")
    assert not membership.user.has_usable_password()
    assert membership.card_issued_at is None
    assert membership.recording == RecordingPermission.PENDING
    assert [(s.section, s.instrument, str(s.since)) for s in Seat.objects.all()] == [
        (section, "flute", "2026-10-06")
    ]


def test_a_seat_begins_on_the_bands_day_not_on_the_servers(at: datetime) -> None:
    """8 pm UTC on the sixth is the seventh in Auckland."""
    band = factories.make_band(time_zone="Pacific/Auckland")
    section = factories.make_section(band=band)
    create_student(band=band, first_name="Ada", section=section, instrument=Instrument.FLUTE, at=at)
    assert str(Seat.objects.get().since) == "2026-10-07"


def test_a_name_id_that_is_taken_is_refused(band: Band, at: datetime) -> None:
    create_student(band=band, first_name="Amaru", name_id="amaru-41", at=at)
    with pytest.raises(Refused, match="amaru-41 is taken"):
        create_student(band=band, first_name="Amaru", name_id="amaru-41", at=at)
    assert User.objects.count() == Membership.objects.count() == 1


def test_a_student_is_added_on_a_page(sign_in, director: Membership, section: Section) -> None:
    typed = {
        "first_name": "Amaru",
        "last_name": "Vee",
        "section": section.pk,
        "instrument": "flute",
        "recording": "granted",
    }
    answer = sign_in(director.user).post(reverse("people:student-new"), typed, follow=True)
    assert "Amaru Vee is in the band." in answer.content.decode()
    assert Membership.objects.get(user__first_name="Amaru").may_record


def test_what_is_missing_is_said_at_its_field(sign_in, director: Membership, section: Section) -> None:
    answer = sign_in(director.user).post(reverse("people:student-new"), {"first_name": "x" * 61})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "at most 60" in page
    assert page.count("This field is required.") >= 3
    assert not Seat.objects.exists()


def test_html_in_a_name_is_text_everywhere(
    sign_in, director: Membership, section: Section, at: datetime
) -> None:
    name = "<script>x</script>"
    membership = create_student(
        band=director.band,
        first_name=name,
        last_name=name,
        section=section,
        instrument=Instrument.FLUTE,
        at=at,
    )
    client = sign_in(director.user)
    pages = [
        BAND,
        reverse("people:student", args=[membership.pk]),
        reverse("people:cards"),
        reverse("people:permissions"),
    ]
    for url in [*pages, reverse("people:student-erase", args=[membership.pk])]:
        page = client.get(url).content.decode()
        assert name not in page
        assert "&lt;script&gt;" in page


def test_a_new_name_leaves_the_name_id(sign_in, director: Membership, seat: Seat) -> None:
    student, before = seat.student.memberships.get(), seat.student.sign_in_name
    sign_in(director.user).post(
        reverse("people:student-name", args=[student.pk]), {"first_name": "Robin", "last_name": ""}
    )
    seat.student.refresh_from_db()
    assert (seat.student.full_name, seat.student.sign_in_name) == ("Robin", before)


def test_leaving_ends_seats_card_and_sessions_and_keeps_history(sign_in, seat: Seat, at: datetime) -> None:
    membership = seat.student.memberships.get()
    issue_cards(band=membership.band, at=at)
    seat.student.refresh_from_db()
    client = sign_in(seat.student)
    leave_band(membership=membership, at=at)
    seat.refresh_from_db()
    assert str(seat.until) == "2026-10-06"
    assert membership.card_issued_at is None
    assert client.get("/").status_code == 302  # to sign in, which no longer works
    assert not User.objects.get(pk=seat.student_id).has_usable_password()
    with pytest.raises(Refused, match="has left the band already"):
        leave_band(membership=membership, at=at)


def test_coming_back_is_without_seat_and_card(seat: Seat, at: datetime) -> None:
    membership = seat.student.memberships.get()
    leave_band(membership=membership, at=at)
    come_back(membership=membership)
    now = band_now(membership.band)
    assert [m.pk for m in now.unseated] == [membership.pk]
    assert now.without_card == 1
    with pytest.raises(Refused, match="is in the band already"):
        come_back(membership=membership)


def test_permissions_of_the_whole_band_are_saved_at_once(
    sign_in, director: Membership, section: Section
) -> None:
    seats = [factories.make_seat(section=section) for _ in range(3)]
    members = [seat.student.memberships.get() for seat in seats]
    answer = sign_in(director.user).post(
        reverse("people:permissions"), {f"m{members[0].pk}": "refused", f"m{members[1].pk}": "pending"}
    )
    assert answer.status_code == 302
    assert [
        m.recording for m in Membership.objects.filter(pk__in=[m.pk for m in members]).order_by("pk")
    ] == [
        "refused",
        "pending",
        "granted",
    ]


def test_permissions_of_other_bands_and_of_staff_are_left_alone(director: Membership) -> None:
    elsewhere = factories.make_seat(
        section=factories.make_section(band=factories.make_band(name="Jazz Band"))
    )
    other = elsewhere.student.memberships.get()
    asked = {other.pk: RecordingPermission.REFUSED, director.pk: RecordingPermission.REFUSED}
    assert set_recording(band=director.band, permissions=asked) == 0
    assert set(Membership.objects.values_list("recording", flat=True)) == {"granted"}


def test_a_permission_that_does_not_exist_is_refused(sign_in, director: Membership, seat: Seat) -> None:
    student = seat.student.memberships.get()
    client = sign_in(director.user)
    client.post(reverse("people:student-recording", args=[student.pk]), {"recording": "perhaps"})
    assert client.post(reverse("people:permissions"), {f"m{student.pk}": "perhaps"}).status_code == 422
    student.refresh_from_db()
    assert student.recording == "granted"


@pytest.mark.parametrize("count", [1, 30])
@pytest.mark.parametrize(
    ("url", "queries"),
    [("people:band", 6), ("people:cards", 5), ("people:permissions", 5), ("people:staff", 4)],
)
def test_pages_of_the_band_cost_the_same_for_one_student_and_thirty(
    sign_in,
    director: Membership,
    section: Section,
    django_assert_num_queries,
    url: str,
    queries: int,
    count: int,
) -> None:
    """Session, user, memberships; then what the page shows."""
    for _ in range(count):
        factories.make_seat(section=section)
    client = sign_in(director.user)
    with django_assert_num_queries(queries):
        assert client.get(reverse(url)).status_code == 200


def test_a_student_with_two_seats_has_one_place_the_first_in_score_order(
    band: Band, section: Section, seat: Seat
) -> None:
    first = Section.objects.create(band=band, name="Oboe", period="1")
    factories.make_seat(section=first, student=seat.student, instrument="oboe")
    [place] = places_of(band)
    assert place.seat
    assert place.seat.instrument == "oboe"


def test_the_band_page_tells_who_sits_where_and_who_does_not(
    sign_in, director: Membership, seat: Seat, at: datetime
) -> None:
    create_student(band=director.band, first_name="Noor", last_name="Holm", at=at)
    page = sign_in(director.user).get(BAND).content.decode()
    assert seat.student.full_name in page
    assert "Without a seat" in page
    assert "Noor Holm" in page
    assert "2 students in 1 section" in page


@pytest.mark.parametrize("name", ["people:permissions", "people:cards", "submissions:checklists"])
def test_a_page_about_students_leads_an_empty_band_to_its_class_list(
    sign_in, director: Membership, name: str
) -> None:
    said = sign_in(director.user).get(reverse(name)).content.decode()
    assert 'href="/band/import/">Bring in a class list</a>' in said


def test_an_empty_band_says_what_to_do(sign_in, director: Membership) -> None:
    page = sign_in(director.user).get(BAND).content.decode()
    assert "Nobody sits here yet." in page
    assert reverse("people:import") in page


def test_a_substitute_sees_the_band_without_a_way_to_change_it(
    sign_in, substitute: Membership, seat: Seat
) -> None:
    client = sign_in(substitute.user)
    for url in (BAND, reverse("people:student", args=[seat.student.memberships.get().pk])):
        page = client.get(url).content.decode()
        assert seat.student.full_name in page
        for way in (
            "/band/students/new/",
            "/band/cards/",
            "/band/import/",
            "/erase/",
            "/export/",
            "/change/",
            "Save",
        ):
            assert way not in page
