"""Who may open which address of people: every one of them, as everyone, with the exact answer."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from bandroom.people.models import Membership, Role, Seat, Section
from bandroom.people.urls import urlpatterns
from tests import factories

pytestmark = pytest.mark.django_db

WHO = ("nobody", "student", "classmate", "student_elsewhere", "substitute", "director", "director_elsewhere")
# The answers in the order of WHO. A visitor is sent to sign in (302), or told so if something was sent (401).
ANYONE = dict.fromkeys(WHO, 200)
STAFF = dict(zip(WHO, (302, 404, 404, 404, 200, 200, 200), strict=True))
STAFF_HERE = STAFF | {"director_elsewhere": 404}
DIRECTORS = STAFF | {"substitute": 404}
DIRECTORS_HERE = STAFF_HERE | {"substitute": 404}
MEMBERS = ANYONE | {"nobody": 302}
SENT = {"nobody": 401}


def sent(answers: dict[str, int], ok: int) -> dict[str, int]:
    """The same people, when something is sent: `ok` for those who may."""
    return {who: ok if status == 200 else status for who, status in (answers | SENT).items()}


# name, GET answers (None: 405 for all who are let in so far as to learn it), POST answers (None: 405)
DOOR = dict.fromkeys(WHO, 302) | {"nobody": 200}
GETS: dict[str, dict[str, int]] = {
    "sign-in": DOOR,
    "sign-in-staff": DOOR,
    "set-password": dict.fromkeys(WHO, 404),  # a made-up link
    "password": STAFF,
    "choose-band": MEMBERS,
    "band": STAFF,
    "settings": DIRECTORS,
    "section-new": DIRECTORS,
    "section": DIRECTORS_HERE,
    "student-new": DIRECTORS,
    "student": STAFF_HERE,
    "student-export": DIRECTORS_HERE,
    "student-erase": DIRECTORS_HERE,
    "permissions": DIRECTORS,
    "staff": DIRECTORS,
    "cards": DIRECTORS,
    "import": DIRECTORS,
}
# What is sent is wrong, so that everyone meets the same band: 422 and 302 say that it was looked at.
POSTS: dict[str, dict[str, int]] = {
    "sign-in": dict.fromkeys(WHO, 422),
    "sign-in-staff": dict.fromkeys(WHO, 422),
    "sign-out": dict.fromkeys(WHO, 302),
    "set-reading": dict.fromkeys(WHO, 302),
    "set-password": dict.fromkeys(WHO, 404),
    "password": sent(STAFF, 422),
    "choose-band": dict.fromkeys(WHO, 404) | SENT,  # no band is named
    "settings": sent(DIRECTORS, 422),
    "section-new": sent(DIRECTORS, 422),
    "section": sent(DIRECTORS_HERE, 422),
    "section-move": sent(DIRECTORS_HERE, 302),
    "section-remove": sent(DIRECTORS_HERE, 302),
    "student-new": sent(DIRECTORS, 422),
    "student-name": sent(DIRECTORS_HERE, 422),
    "student-recording": sent(DIRECTORS_HERE, 302),
    "student-leave": sent(DIRECTORS_HERE, 302),
    "student-come-back": sent(DIRECTORS_HERE, 302),
    "student-erase": sent(DIRECTORS_HERE, 422),
    "seat-new": sent(DIRECTORS_HERE, 422),
    "seat-change": sent(DIRECTORS_HERE, 422),
    "seat-end": sent(DIRECTORS_HERE, 302),
    "permissions": sent(DIRECTORS, 302),
    "staff": sent(DIRECTORS, 422),
    "staff-link": sent(DIRECTORS_HERE, 200),
    "staff-end": sent(DIRECTORS_HERE, 302),
    "cards-print": sent(DIRECTORS, 422),
    "import": sent(DIRECTORS, 422),
    "import-preview": sent(DIRECTORS, 302),
    "import-apply": sent(DIRECTORS, 302),
}


@pytest.fixture
def open_as(
    sign_in: Callable[..., Client],
    director: Membership,
    substitute: Membership,
    section: Section,
    seat: Seat,
) -> Callable[[str], Client]:
    jazz = factories.make_section(band=factories.make_band(name="Jazz Band"))
    people = {
        "student": seat.student,
        "classmate": factories.make_seat(section=section).student,
        "student_elsewhere": factories.make_seat(section=jazz).student,
        "substitute": substitute.user,
        "director": director.user,
        "director_elsewhere": factories.make_staff(band=jazz.band).user,
    }
    return lambda who: Client() if who == "nobody" else sign_in(people[who])


@pytest.fixture
def address(section: Section, seat: Seat, substitute: Membership) -> Callable[[str], str]:
    student = seat.student.memberships.get()
    arguments = {
        "set-password": ["MQ", "a-b"],
        **{name: [section.pk] for name in ("section", "section-move", "section-remove")},
        **{name: [seat.pk] for name in ("seat-change", "seat-end")},
        **{name: [substitute.pk] for name in ("staff-link", "staff-end")},
    }
    own = ("student", "seat-new")
    return lambda name: reverse(
        f"people:{name}",
        args=arguments.get(
            name,
            [student.pk] if name in own or (name.startswith("student-") and name != "student-new") else [],
        ),
    )


def test_every_address_of_people_is_in_the_tables() -> None:
    assert {pattern.name for pattern in urlpatterns} == GETS.keys() | POSTS.keys()


@pytest.mark.parametrize("name", GETS)
def test_who_may_look(open_as: Callable[[str], Client], address: Callable[[str], str], name: str) -> None:
    answers = {who: open_as(who).get(address(name)) for who in WHO}
    assert {who: answer.status_code for who, answer in answers.items()} == GETS[name]
    if GETS[name]["nobody"] == 302:
        assert answers["nobody"]["Location"].startswith("/sign-in/?next=/")
    for answer in answers.values():
        answer.close()


@pytest.mark.parametrize("name", POSTS)
def test_who_may_send(
    open_as: Callable[[str], Client], address: Callable[[str], str], name: str, director: Membership
) -> None:
    something = {"csrfmiddlewaretoken": "x", "way": "up"}
    if name == "set-password":
        something = {}
    for who, status in POSTS[name].items():
        assert open_as(who).post(address(name), something).status_code == status, who
    assert Membership.objects.filter(pk=director.pk, ended_at=None, role=Role.DIRECTOR).exists()


@pytest.mark.parametrize("name", sorted(GETS.keys() - POSTS.keys()))
def test_pages_that_only_show_take_nothing(
    open_as: Callable[[str], Client], address: Callable[[str], str], name: str
) -> None:
    assert open_as("director").post(address(name)).status_code == 405


@pytest.mark.parametrize("name", sorted(POSTS.keys() - GETS.keys()))
def test_what_changes_something_is_never_a_link(
    open_as: Callable[[str], Client], address: Callable[[str], str], name: str
) -> None:
    assert open_as("director").get(address(name)).status_code == 405


@pytest.mark.parametrize("name", sorted(POSTS))
def test_nothing_is_taken_without_the_token_of_a_form(
    director: Membership, address: Callable[[str], str], name: str
) -> None:
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(director.user, backend="bandroom.people.signing_in.NameBackend")
    assert strict.post(address(name)).status_code == 403


def test_a_membership_of_staff_is_no_student(
    open_as: Callable[[str], Client], substitute: Membership
) -> None:
    """A student's page, export or erasing reached with the number of an adult is not there."""
    client = open_as("director")
    for name in ("student", "student-export", "student-erase"):
        assert client.get(reverse(f"people:{name}", args=[substitute.pk])).status_code == 404


def test_a_students_number_is_no_colleague(open_as: Callable[[str], Client], seat: Seat) -> None:
    student = seat.student.memberships.get()
    for name in ("staff-link", "staff-end"):
        assert open_as("director").post(reverse(f"people:{name}", args=[student.pk])).status_code == 404
