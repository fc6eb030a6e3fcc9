"""Headers of answers: nothing of a signed-in person is kept, and a page may use the microphone alone."""

import pytest
from django.test import Client

from bandroom.people.models import Membership, Seat

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("address", ["/band/", "/week/", "/assignments/", "/exercises/", "/check-ins/"])
def test_no_page_of_staff_is_kept_by_a_browser(address: str, director: Membership, sign_in):
    response = sign_in(director.user).get(address)

    assert response.status_code == 200
    assert set(response["Cache-Control"].split(", ")) == {"private", "no-store"}


def test_nor_what_a_student_is_refused(seat: Seat, sign_in):
    response = sign_in(seat.student).get("/band/")

    assert response.status_code == 404
    assert "no-store" in response["Cache-Control"]


def test_pages_before_signing_in_say_the_microphone_is_ours_alone(client: Client):
    policy = client.get("/sign-in/")["Permissions-Policy"].split(", ")

    assert policy[0] == "microphone=(self)"
    assert {"camera=()", "geolocation=()", "display-capture=()", "midi=()"} <= set(policy)
