"""The meeting's page: one student at a time, marked on the assignment's own rubric by the desk's services."""

from datetime import timedelta

import pytest
import time_machine
from django.urls import reverse

from submissions.checkins.services import booking as services
from submissions.checkins.services import timetable
from submissions.models import Booking, Mark, Return, Stuck, TurnIn
from tests import factories
from tests.submissions.checkins.conftest import ESCAPED, HTML, make_slot, refreshed
from tests.submissions.grading.conftest import sheet

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("in_the_meeting")]


@pytest.fixture
def in_the_meeting(slot):
    with time_machine.travel(slot.starts_at + timedelta(minutes=1), tick=False):
        yield


def url(name: str, booking: Booking) -> str:
    return reverse(f"submissions:booking-{name}", args=[booking.pk])


def meeting_of(booking: Booking) -> str:
    return f"/check-ins/{booking.slot_id}/?booking={booking.pk}"


def page(client, address: str) -> str:
    return client.get(address).content.decode()


@pytest.fixture
def second(band, section, assignment, slot, at) -> Booking:
    """The next student of the same sitting."""
    other = make_slot(band=band, sections=[section], at=at, hours=1.25)
    type(other).objects.filter(pk=other.pk).update(series=slot.series)
    student = factories.make_user(first_name="Odile")
    return services.book(
        slot=other,
        seat=factories.make_seat(section=section, student=student, instrument="trumpet"),
        assignment=assignment,
        wants_help=False,
        at=at,
    )


def test_the_student_to_call_with_both_lines_and_one_key_each(staff, slot, booking):
    text = page(staff, f"/check-ins/{slot.pk}/")

    assert booking.seat.student.full_name in text
    assert text.index('data-line="A"') < text.index('data-line="B"')
    for key in ("H", "X", "C"):
        assert f'data-key="{key}"' in text
    assert text.count("data-scale=") == 4
    assert "<fieldset" in text
    assert text.count("disabled>") == 2  # nothing is marked before the student is here


def test_here_then_marks_can_be_given_through_the_desks_own_address(staff, booking, assignment):
    assert staff.post(url("here", booking)).url == meeting_of(booking)
    text = page(staff, meeting_of(booking))
    assert "disabled>" not in text
    assert f'data-mark="/assignments/{assignment.pk}/desk/{booking.seat_id}/mark/"' in text
    criterion = assignment.rubric.criteria.first()
    level = criterion.levels.last()

    answer = staff.post(
        reverse("submissions:desk-mark", args=[assignment.pk, booking.seat_id]),
        {"attempt": "1", "line": "A", "criterion": criterion.pk, "level": level.pk, "seen": ""},
    )

    assert answer.json() == {"saved": str(level.pk)}
    mark = Mark.objects.get()
    assert (mark.turn_in.route, mark.level) == (TurnIn.Route.CHECK_IN, level)


def test_return_sends_the_marks_back_and_calls_the_next(staff, booking, second):
    staff.post(url("here", booking))
    turn_in = TurnIn.objects.get()
    assert "Return and call Odile" in page(staff, meeting_of(booking))

    response = staff.post(url("return", booking), sheet(turn_in, worked="A clear first note."))

    assert response.url == meeting_of(second)
    assert refreshed(turn_in).state == TurnIn.State.RETURNED
    assert Mark.objects.count() == 4
    assert Return.objects.get().worked == "A clear first note."


def test_the_page_module_is_told_where_to_go(staff, booking, second):
    staff.post(url("here", booking))

    answer = staff.post(
        url("return", booking), sheet(TurnIn.objects.get()), headers={"X-Requested-With": "bandroom"}
    )

    assert answer.json() == {"next": meeting_of(second)}


def test_return_with_marks_missing_is_refused_once_and_keeps_what_was_given(staff, booking):
    staff.post(url("here", booking))
    turn_in = TurnIn.objects.get()
    given = {name: value for name, value in sheet(turn_in).items() if not name.startswith("mark-B")}

    refused = staff.post(url("return", booking), given)
    scripted = staff.post(url("return", booking), given, headers={"X-Requested-With": "bandroom"})

    assert (refused.status_code, scripted.status_code) == (409, 409)
    assert "have no mark yet" in refused.content.decode()
    assert "Return without them" in refused.content.decode()
    assert scripted.json()["kind"] == "incomplete"
    assert Mark.objects.count() == 2
    assert staff.post(url("return", booking), given | {"do": "return-unmarked"}).status_code == 302
    assert refreshed(turn_in).state == TurnIn.State.RETURNED


def test_a_bad_sheet_is_said_and_loses_no_words(staff, booking):
    staff.post(url("here", booking))
    data = sheet(TurnIn.objects.get(), worked="Every half note got two beats.", look_at="Z9")

    response = staff.post(url("return", booking), data)

    assert response.status_code == 422
    assert "That bar is not in this exercise" in response.content.decode()
    assert "Every half note got two beats." in response.content.decode()


def test_ask_to_play_again_goes_on_as_well(staff, booking, second):
    staff.post(url("here", booking))

    response = staff.post(url("return", booking), sheet(TurnIn.objects.get(), do="again"))

    assert response.url == meeting_of(second)
    assert TurnIn.objects.get().state == TurnIn.State.REDO


def test_keep_stays_with_the_student(staff, booking, second):
    staff.post(url("here", booking))

    assert staff.post(url("return", booking), sheet(TurnIn.objects.get(), do="keep")).url == meeting_of(
        booking
    )


def test_absent_is_one_press_and_goes_to_the_next(staff, booking, second):
    response = staff.post(url("absent", booking))

    assert response.url == meeting_of(second)
    assert refreshed(booking).state == Booking.State.ABSENT
    assert not TurnIn.objects.exists()


def test_the_last_one_stays_when_nobody_is_left(staff, booking):
    assert staff.post(url("absent", booking)).url == meeting_of(booking)
    text = page(staff, meeting_of(booking))
    assert "nobody else to call" in text
    assert "Came after all" in text


def test_a_substitute_meets_and_marks_as_well(substitute, sign_in, booking):
    client = sign_in(substitute.user)

    assert client.post(url("here", booking)).status_code == 302
    assert client.post(url("return", booking), sheet(TurnIn.objects.get())).status_code == 302
    assert "Change it" not in page(client, meeting_of(booking))


def test_helped_solves_what_the_student_was_stuck_at(staff, slot, seat, assignment, at):
    Stuck.objects.create(assignment=assignment, seat=seat, line="B", bar=2, at=at)
    booking = services.book(slot=slot, seat=seat, assignment=None, wants_help=True, at=at)
    text = page(staff, meeting_of(booking))
    assert "Stuck in No. 1, Stepping Stones, line B, bar 2" in text
    assert 'data-bars="1"' in text  # the second bar is lit
    assert 'data-key="D"' in text

    response = staff.post(url("helped", booking), follow=True)

    assert "Ada was helped. 1 place solved." in response.content.decode()
    assert not Stuck.objects.filter(helped_at=None).exists()


def test_help_with_nothing_named_shows_what_is_due_next(staff, slot, seat, assignment, at):
    booking = services.book(slot=slot, seat=seat, assignment=None, wants_help=True, at=at)

    text = page(staff, meeting_of(booking))

    assert "No. 1, Stepping Stones, line A" in text
    assert "No. 1, Stepping Stones, line B" in text


def test_playing_after_due_is_said_before_it_happens(staff, booking):
    booking.assignment.postings.update(due_at=booking.slot.starts_at - timedelta(hours=1))

    text = page(staff, meeting_of(booking))

    assert "Past due:" in text
    assert "so playing now counts as late" in text


@pytest.mark.parametrize("wanted", ["", "999999", "x", HTML])
def test_a_strange_booking_in_the_address_shows_who_is_to_be_called(staff, booking, wanted):
    text = page(staff, f"/check-ins/{booking.slot_id}/?booking={wanted}")

    assert booking.seat.student.full_name in text


def test_a_time_nobody_booked_says_so(staff, slot):
    assert "Nobody has booked this time." in page(staff, f"/check-ins/{slot.pk}/")


def test_a_cancelled_time_calls_nobody(staff, slot, booking, at):
    timetable.cancel_slot(slot=slot, at=at)

    text = page(staff, meeting_of(booking))
    response = staff.post(url("here", booking))

    assert "This time is cancelled." in text
    assert 'data-key="H"' not in text
    assert response.status_code == 409
    assert "This time was cancelled; there is nobody to call." in response.content.decode()


def test_a_move_that_is_refused_says_why(staff, booking):
    staff.post(url("here", booking))
    criterion = booking.assignment.rubric.criteria.first()
    staff.post(
        reverse("submissions:desk-mark", args=[booking.assignment_id, booking.seat_id]),
        {"attempt": "1", "line": "A", "criterion": criterion.pk, "level": "not_yet", "seen": ""},
    )

    response = staff.post(url("back", booking))

    assert response.status_code == 409
    assert "Marks were given here already" in response.content.decode()


def test_html_from_students_names_and_notes_is_text(staff, section, booking):
    type(booking.seat.student).objects.update(first_name=HTML, last_name=HTML)
    staff.post(url("here", booking))

    response = staff.post(url("return", booking), sheet(TurnIn.objects.get(), worked=HTML, look_at="Z9"))

    text = response.content.decode()
    assert text.count(ESCAPED) > 1
    assert "<b onclick" not in text


@pytest.mark.parametrize("number", [1, 30])
def test_the_page_costs_the_same_for_one_student_and_for_thirty(
    staff, band, section, assignment, at, django_assert_num_queries, number
):
    slot = make_slot(band=band, sections=[section], at=at, hours=2, capacity=30, minutes=60)
    for _ in range(number):
        seat = factories.make_seat(section=section)
        services.book(slot=slot, seat=seat, assignment=assignment, wants_help=False, at=at)
    page(staff, f"/check-ins/{slot.pk}/")  # the part is engraved once

    # session, user, membership; the time; its sitting: times, bookings, turn-ins, recording; sections;
    # assignment and roster: seven; the part: lines and three tables of choices; takes, levels, phrases; stuck
    with django_assert_num_queries(24):
        text = page(staff, f"/check-ins/{slot.pk}/")

    assert f"{number} of 30" in text
