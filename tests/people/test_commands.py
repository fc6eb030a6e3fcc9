"""The commands for the first director on a new server."""

import getpass
import re

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from bandroom.people.models import Band, Membership, Role, User
from tests import factories

pytestmark = pytest.mark.django_db
GIVEN = {
    "school": "Harrow Bend Middle School",
    "time_zone": "America/Chicago",
    "starts": "2026-08-24",
    "ends": "2027-06-11",
    "email": "D.Park@School.Example",
    "first_name": "Ms. Dana",
    "last_name": "Park",
}
GOOD = "three green valves hum"


def arguments(**changed: str) -> list[str]:
    given = GIVEN | changed
    return [
        "Harrow Bend Band",
        *(f"--{name.replace('_', '-')}={value}" for name, value in given.items() if value),
    ]


def typing(monkeypatch: pytest.MonkeyPatch, *typed: str) -> None:
    answers = iter(typed)
    monkeypatch.setattr(getpass, "getpass", lambda _prompt: next(answers))


def test_a_band_and_its_director_with_a_typed_password(monkeypatch: pytest.MonkeyPatch, capsys) -> None:
    typing(monkeypatch, GOOD, GOOD)
    call_command("create_band", *arguments())
    membership = Membership.objects.get()
    assert (membership.role, str(membership.band), membership.user.sign_in_name) == (
        Role.DIRECTOR,
        "Harrow Bend Band",
        "d.park@school.example",
    )
    assert (
        Client()
        .post(reverse("people:sign-in-staff"), {"username": "d.park@school.example", "password": GOOD})
        .status_code
        == 302
    )
    said = capsys.readouterr().out
    assert "Harrow Bend Band is ready. Ms. Dana Park directs it" in said
    assert GOOD not in said


def test_a_link_instead_of_a_password(capsys) -> None:
    call_command("create_band", *arguments(), "--link=https://band.school.example/")
    found = re.search(r"https://band\.school\.example(/welcome/\S+)", capsys.readouterr().out)
    assert found
    assert Client().post(found.group(1), {"new": GOOD, "again": GOOD}).status_code == 302
    assert User.objects.get().check_password(GOOD)


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"time_zone": "Mars/Olympus"}, "is not a time zone"),
        ({"ends": "2026-08-01"}, "band_year_runs_forward|year"),
        ({"email": "nobody"}, "valid email"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_made(
    monkeypatch: pytest.MonkeyPatch, changed: dict[str, str], says: str
) -> None:
    typing(monkeypatch, GOOD, GOOD)
    with pytest.raises(CommandError, match=says):
        call_command("create_band", *arguments(**changed))
    assert not Band.objects.exists()
    assert not User.objects.exists()


@pytest.mark.parametrize(
    ("typed", "says"), [((GOOD, "other"), "not the same"), (("short", "short"), "at least 12")]
)
def test_a_poor_password_makes_nothing(
    monkeypatch: pytest.MonkeyPatch, typed: tuple[str, str], says: str
) -> None:
    typing(monkeypatch, *typed)
    with pytest.raises(CommandError, match=says):
        call_command("create_band", *arguments())
    assert not Band.objects.exists()


def test_a_known_director_gets_a_second_band_with_the_password_that_is_there(capsys) -> None:
    known = factories.make_staff(
        band=factories.make_band(), user=factories.make_user(sign_in_name=GIVEN["email"])
    )
    call_command("create_band", *arguments())
    assert Membership.objects.filter(user=known.user, role=Role.DIRECTOR).count() == 2
    assert "/welcome/" not in capsys.readouterr().out


def test_a_password_link_for_a_director(director: Membership, capsys) -> None:
    call_command("password_link", director.user.sign_in_name.upper(), "https://band.school.example")
    assert "https://band.school.example/welcome/" in capsys.readouterr().out


def test_students_and_strangers_get_no_password_link(seat) -> None:
    for name in (seat.student.sign_in_name, "nobody@school.example"):
        with pytest.raises(CommandError, match="No director or substitute"):
            call_command("password_link", name, "https://band.school.example")
