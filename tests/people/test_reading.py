"""Roomy letters and strong contrast: for this browser, from the first letter on, and not in the records."""

import pytest
from django.test import Client
from lxml import html

from bandroom.people.reading import COOKIE

pytestmark = pytest.mark.django_db
SHEETS = {"roomy": "not all", "strong": "(prefers-contrast: more)"}


def media(client: Client, path: str) -> dict[str, str]:
    page = html.fromstring(client.get(path).content)
    return {link.get("data-reading"): link.get("media") for link in page.cssselect("link[data-reading]")}


def turn(client: Client, next_page: str = "/work/", **chosen: str):
    return client.post("/reading/", chosen | {"next": next_page})


def test_a_switch_holds_on_every_page_until_it_is_turned_back(client, seat, sign_in):
    client = sign_in(seat.student)
    assert media(client, "/work/") == SHEETS
    response = turn(client, roomy="on")
    assert (response.status_code, response.url) == (302, "/work/")
    assert media(client, "/work/") == SHEETS | {"roomy": "all"}
    turn(client, strong="on")
    assert media(client, "/work/earlier/") == {"roomy": "all", "strong": "all"}
    turn(client, roomy="off")
    assert media(client, "/work/") == SHEETS | {"strong": "all"}


def test_it_works_at_the_door_and_leads_nowhere_else(client):
    assert turn(client, "/sign-in/", strong="on").url == "/sign-in/"
    assert media(client, "/sign-in/")["strong"] == "all"
    assert turn(client, "https://elsewhere.example/", roomy="on").url == "/"
    client.cookies[COOKIE] = "<b>.roomy.nothing"
    assert media(client, "/sign-in/") == SHEETS | {"roomy": "all"}


def test_an_own_phone_remembers_and_a_shared_laptop_forgets(seat, sign_in):
    own = sign_in(seat.student)
    turn(own, roomy="on")
    assert own.cookies[COOKIE]["max-age"] == 365 * 24 * 60 * 60
    own.post("/sign-out/")
    assert media(own, "/sign-in/")["roomy"] == "all"

    shared = sign_in(seat.student)
    session = shared.session
    session.set_expiry(0)
    session.save()
    turn(shared, roomy="on")
    assert shared.cookies[COOKIE]["max-age"] == ""
    shared.post("/sign-out/")
    assert media(shared, "/sign-in/") == SHEETS
