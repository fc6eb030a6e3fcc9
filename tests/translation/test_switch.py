"""Which language a page is in: the browser's, the one chosen on the page, and English for staff."""

from collections.abc import Callable

import pytest
from django.conf import settings
from django.test import Client

from bandroom.people.models import Membership, Seat, User

pytestmark = pytest.mark.django_db
SignIn = Callable[[User], Client]
SPANISH = {"Accept-Language": "es-MX,es;q=0.9,en;q=0.5"}


def test_a_visitor_meets_the_language_of_the_browser():
    spanish = Client().get("/sign-in/", headers=SPANISH)
    assert b'<html lang="es">' in spanish.content
    assert "¿Tienes tu tarjeta?" in spanish.content.decode()
    assert spanish["Content-Language"] == "es"
    english = Client().get("/sign-in/", headers={"Accept-Language": "de"})
    assert b'<html lang="en">' in english.content


def test_caches_are_told_what_the_language_hangs_on(seat: Seat, sign_in: SignIn):
    for response in (
        Client().get("/sign-in/"),
        sign_in(seat.student).get("/work/"),
        Client().get("/nowhere/"),
    ):
        assert {"Accept-Language", "Cookie"} <= {word.strip() for word in response["Vary"].split(",")}


def test_the_language_chosen_at_the_door_stays_after_signing_in(seat: Seat):
    client = Client()
    answer = client.post("/language/", {"language": "es", "next": "/sign-in/?next=/work/"})
    assert (answer.status_code, answer["Location"]) == (302, "/sign-in/?next=/work/")
    cookie = client.cookies[settings.LANGUAGE_COOKIE_NAME]
    assert (cookie.value, cookie["httponly"], cookie["samesite"]) == ("es", True, "Lax")
    client.force_login(seat.student, backend="bandroom.people.signing_in.NameBackend")
    assert "Ahora no hay nada que entregar." in client.get("/work/").content.decode()


def test_a_choice_wins_over_the_browser_and_can_be_taken_back(seat: Seat, sign_in: SignIn):
    client = sign_in(seat.student)
    client.post("/language/", {"language": "en", "next": "/work/"}, headers=SPANISH)
    assert b'<html lang="en">' in client.get("/work/", headers=SPANISH).content
    client.post("/language/", {"language": "es", "next": "/work/"})
    assert b'<html lang="es">' in client.get("/work/").content


@pytest.mark.parametrize("wrong", ["xx", "", "../es"])
def test_a_language_that_is_not_there_changes_nothing(wrong: str):
    client = Client()
    assert client.post("/language/", {"language": wrong, "next": "/sign-in/"}).status_code == 302
    assert settings.LANGUAGE_COOKIE_NAME not in client.cookies


def test_the_switch_leads_nowhere_else():
    answer = Client().post("/language/", {"language": "es", "next": "https://elsewhere.example/"})
    assert answer["Location"] == "/"


def test_a_page_has_the_switch_with_the_way_back(seat: Seat, sign_in: SignIn):
    html = sign_in(seat.student).get("/work/").content.decode()
    assert '<input type="hidden" name="next" value="/work/">' in html
    assert 'name="language" value="es" lang="es">Español</button>' in html


def test_staff_read_english_whatever_the_browser_asks_for(director: Membership, sign_in: SignIn):
    client = sign_in(director.user)
    client.post("/language/", {"language": "es", "next": "/week/"})
    for url in ("/week/", "/band/", "/check-ins/", "/nowhere/"):
        response = client.get(url, headers=SPANISH)
        assert b'<html lang="en">' in response.content, url
        assert response["Content-Language"] == "en"


def test_one_request_leaves_no_language_to_the_next(director: Membership, seat: Seat, sign_in: SignIn):
    student = sign_in(seat.student)
    assert b'lang="es"' in student.get("/work/", headers=SPANISH).content
    assert b'<html lang="en">' in sign_in(director.user).get("/week/").content
    assert b'<html lang="en">' in student.get("/work/").content
