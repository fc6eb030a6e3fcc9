"""Pressing "turn in": one small request, stamped on arrival, the phone's own time beside it."""

from datetime import timedelta

import pytest
import time_machine
from django.test import Client
from django.utils.timezone import now

from submissions.models import CountingTake, Policy, Take, TurnIn
from tests import factories

pytestmark = pytest.mark.django_db
SOUND = b"four half notes and a breath" * 30
OTHER = b"eight quarters and no breath" * 30


def test_bytes_may_follow(phone, assignment, seat):
    line_a = phone.declaration(SOUND)
    line_b = phone.declaration(OTHER, lines=["B"])

    response = phone.turn_in(
        assignment, takes={"A": line_a["id"], "B": line_b["id"]}, declare=[line_a, line_b]
    )

    assert response.status_code == 200
    answer = response.json()
    assert (answer["state"], answer["late"]) == ("waiting", False)
    assert {line: take["state"] for line, take in answer["takes"].items()} == {
        "A": "declared",
        "B": "declared",
    }
    row = TurnIn.objects.get()
    assert (row.seat, row.route, row.phone_time) == (seat, TurnIn.Route.RECORDING, None)
    assert {str(c.take_id) for c in CountingTake.objects.all()} == {line_a["id"], line_b["id"]}

    assert phone.patch(line_a["id"], 0, SOUND).status_code == 204
    assert phone.state(line_a["id"])["sha256"] == line_a["sha256"]


def test_one_take_for_both_lines(phone, assignment):
    both = phone.declaration(SOUND, lines=["A", "B"])

    response = phone.turn_in(assignment, takes={"A": both["id"], "B": both["id"]}, declare=[both])

    assert response.status_code == 200
    assert CountingTake.objects.count() == 2


def test_the_stamp_is_the_servers_and_a_lost_answer_costs_no_time(phone, assignment):
    declaration = phone.declaration(SOUND)
    start = now()
    with time_machine.travel(start, tick=False):
        first = phone.turn_in(assignment, takes={"A": declaration["id"]}, declare=[declaration])
    with time_machine.travel(start + timedelta(days=1, hours=3), tick=False):
        again = phone.turn_in(assignment, takes={"A": declaration["id"]}, declare=[declaration])

    assert again.json() == first.json()
    assert TurnIn.objects.get().turned_in_at == start


@pytest.mark.parametrize(("seconds", "late"), [(-1, False), (0, False), (1, True)])
def test_one_second_around_due(phone, assignment, band, seconds, late):
    Policy.objects.create(band=band, grace_minutes=0)
    due = assignment.postings.get().due_at
    declaration = phone.declaration(SOUND)

    with time_machine.travel(due + timedelta(seconds=seconds), tick=False):
        response = phone.turn_in(
            assignment,
            takes={"A": declaration["id"]},
            declare=[declaration],
            phone_time=now().isoformat(),
        )

    assert response.json()["late"] is late


def test_without_a_network_the_phones_own_time_is_kept_beside_the_stamp(phone, assignment):
    """Pressed in time in a house without a network, sent on the bus the next morning."""
    due = assignment.postings.get().due_at
    pressed = due - timedelta(minutes=5)
    declaration = phone.declaration(SOUND, recorded_at=pressed.isoformat())
    with time_machine.travel(due + timedelta(hours=11), tick=False):
        response = phone.turn_in(
            assignment,
            takes={"A": declaration["id"]},
            declare=[declaration],
            pressed_at=pressed.isoformat(),
            phone_time=now().isoformat(),
        )

    row = TurnIn.objects.get()
    assert row.turned_in_at == due + timedelta(hours=11)
    assert row.phone_time == pressed
    assert response.json()["late"] is True


def test_the_school_may_trust_the_phones_time(phone, assignment, band):
    Policy.objects.create(band=band, trust_phone_time=True)
    due = assignment.postings.get().due_at
    declaration = phone.declaration(SOUND)
    with time_machine.travel(due + timedelta(hours=11), tick=False):
        response = phone.turn_in(
            assignment,
            takes={"A": declaration["id"]},
            declare=[declaration],
            pressed_at=(due - timedelta(minutes=5)).isoformat(),
            phone_time=now().isoformat(),
        )

    assert response.json()["late"] is False


def test_a_clock_that_was_set_back_gains_nothing(phone, assignment):
    """The phone believes it is two days earlier, at the press and as it sends."""
    start = now()
    declaration = phone.declaration(SOUND)
    with time_machine.travel(start, tick=False):
        phone.turn_in(
            assignment,
            takes={"A": declaration["id"]},
            declare=[declaration],
            pressed_at=(start - timedelta(days=2, minutes=10)).isoformat(),
            phone_time=(start - timedelta(days=2)).isoformat(),
        )

    assert TurnIn.objects.get().phone_time == start - timedelta(minutes=10)


def test_a_take_is_replaced_until_it_closes(phone, assignment):
    first, second = phone.declaration(SOUND), phone.declaration(OTHER)
    phone.turn_in(assignment, takes={"A": first["id"]}, declare=[first])
    phone.turn_in(assignment, takes={"A": second["id"]}, declare=[second])

    assert str(CountingTake.objects.get().take_id) == second["id"]
    assert Take.objects.count() == 2
    assert TurnIn.objects.get().attempt == 1


def test_after_closing(phone, assignment):
    declaration = phone.declaration(SOUND)
    phone.declare(assignment, declaration)

    with time_machine.travel(now() + timedelta(days=3)):
        response = phone.turn_in(assignment, takes={"A": declaration["id"]})

    assert response.status_code == 409
    assert response.json()["says"] == (
        "This assignment is closed; ask your director if you can still turn it in."
    )
    assert not TurnIn.objects.exists()


def test_a_refused_declaration_refuses_the_whole(phone, assignment):
    good, empty = phone.declaration(SOUND), phone.declaration(b"", lines=["B"])

    response = phone.turn_in(assignment, takes={"A": good["id"], "B": empty["id"]}, declare=[good, empty])

    assert response.status_code == 422
    assert response.json()["says"] == "This file is empty; record it again or choose another file."
    assert not Take.objects.exists()
    assert not TurnIn.objects.exists()


@pytest.mark.parametrize(
    ("takes", "says"),
    [
        ({}, "Choose a take for each line first, then turn in."),
        ({"A": "no-id"}, "The school's computer did not understand “takes”; load the page again and go on."),
        ([], "The school's computer did not understand “takes”; load the page again and go on."),
        (
            {"A": "00000000-0000-4000-8000-000000000000"},
            "One of these recordings was never announced; choose your takes again.",
        ),
    ],
)
def test_a_press_that_names_no_take(phone, assignment, takes, says):
    response = phone.turn_in(assignment, takes=takes)

    assert response.json() == {"says": says}
    assert response.status_code in {409, 422}
    assert not TurnIn.objects.exists()


def test_another_students_take_cannot_be_turned_in(phone, assignment, section, make_phone):
    declaration = phone.declaration(SOUND)
    phone.declare(assignment, declaration)
    classmate = make_phone(factories.make_seat(section=section))

    response = classmate.turn_in(assignment, takes={"A": declaration["id"]})

    assert response.status_code == 422
    assert not TurnIn.objects.exists()


def test_strangers_and_staff(phone, assignment, section, director, sign_in):
    address = f"/work/{assignment.pk}/turn-in/"

    assert phone.client.get(address).status_code == 405
    assert Client().post(address).status_code == 401
    assert sign_in(director.user).post(address).status_code == 404
    unposted = factories.make_seat(section=factories.make_section(band=section.band)).student
    assert sign_in(unposted).post(address).status_code == 404


def test_a_classmate_signed_in_since_the_page_was_loaded(phone, assignment):
    assert phone.turn_in(assignment, takes={}, student=phone.student_pk + 1).status_code == 401
