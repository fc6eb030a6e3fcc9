"""Recordings fill only so much of the school's computer; what is too much stays on the phone."""

import pytest
from django.test import Client
from django.urls import reverse

from bandroom.people.models import Membership
from submissions.models import Take
from submissions.takes.quotas import GIGABYTE, Quota, quota_of_band, quota_of_student

pytestmark = pytest.mark.django_db
CONTENT = b"x" * 600


def says(response) -> str:
    return response.json()["says"]


def test_one_student_fills_the_own_room_and_no_more(phone, assignment, settings):
    settings.STUDENT_MOST_BYTES = 1_500
    for number in range(2):
        phone.send(assignment, CONTENT + bytes([number]))

    refused = phone.declare(assignment, phone.declaration(CONTENT))

    assert refused.status_code == 507
    assert says(refused) == (
        "Your recordings have filled the room that one student has. This one stays on your phone or "
        "computer; ask your director."
    )
    assert Take.objects.count() == 2


def test_a_band_fills_its_room(phone, assignment, settings):
    settings.BAND_MOST_BYTES = 1_000
    phone.send(assignment, CONTENT)

    refused = phone.declare(assignment, phone.declaration(CONTENT + b"y"))

    assert refused.status_code == 507
    assert says(refused).startswith("Your band's recordings have filled the room that they have.")


def test_what_was_announced_before_is_taken_in_all_the_same(phone, assignment, settings):
    declaration = phone.declaration(CONTENT)
    assert phone.declare(assignment, declaration).status_code == 201
    settings.STUDENT_MOST_BYTES = 0

    assert phone.declare(assignment, declaration).status_code == 200


def test_what_retention_deleted_gives_its_room_back(phone, assignment, seat):
    take = phone.send(assignment, CONTENT)
    assert quota_of_student(seat).used == quota_of_band(assignment.band).used == 600
    Take.objects.filter(pk=take.pk).update(served_bytes=400)
    assert quota_of_student(seat).used == 1_000

    Take.objects.update(state=Take.State.DELETED)

    assert quota_of_student(seat).used == quota_of_band(assignment.band).used == 0


def test_the_director_sees_how_much_room_there_is(director: Membership, sign_in, settings):
    settings.BAND_MOST_BYTES = 200 * GIGABYTE
    page = sign_in(director.user).get(reverse("submissions:policy")).content.decode()

    assert "Recordings of this band take up 0.0 of 200 GB." in page
    assert Quota(used=int(3.25 * GIGABYTE), most=200 * GIGABYTE).words == "3.2 of 200 GB"


def test_a_visitor_sees_nothing_of_it(client: Client):
    assert client.get(reverse("submissions:policy")).status_code == 302
