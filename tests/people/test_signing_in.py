"""The door: who gets in, who is told what, and how long a wrong guesser waits."""

from datetime import UTC, datetime

import pytest
from django.conf import settings as django_settings
from django.contrib.auth.hashers import get_hasher, make_password
from django.test import Client, RequestFactory
from django.urls import reverse

from bandroom.people.models import Band, Membership, Role, Seat
from bandroom.people.passphrases import normal_passphrase
from bandroom.people.signing_in import visitor_address
from tests import factories

pytestmark = pytest.mark.django_db
DOOR = reverse("people:sign-in")
STAFF_DOOR = reverse("people:sign-in-staff")
START = datetime(2026, 10, 6, 20, 0, tzinfo=UTC)
WORDS = {"word_1": "copper", "word_2": "lantern", "word_3": "river"}


@pytest.fixture
def amaru(seat: Seat) -> Membership:
    """A student with the card amaru-41, copper lantern river."""
    user = seat.student
    user.sign_in_name = "amaru-41"
    user.set_password("copper-lantern-river")
    user.save()
    return user.memberships.get()


def try_words(client: Client, name: str = "amaru-41", address: str = "10.0.0.1", **words: str) -> int:
    return client.post(
        DOOR, {"username": name, **(words or {"word_1": "wrong"})}, REMOTE_ADDR=address
    ).status_code


def test_a_student_signs_in_with_the_card(client: Client, amaru: Membership) -> None:
    answer = client.post(DOOR, {"username": "amaru-41", **WORDS})
    assert (answer.status_code, answer["Location"]) == (302, "/")
    assert client.session["_auth_user_id"] == str(amaru.user_id)


@pytest.mark.parametrize("name", ["Amaru 41", " amaru41", "AMARU-41"])
@pytest.mark.parametrize(
    "words",
    [
        {"word_1": "Copper lantern-RIVER"},
        {"word_1": "Copper ", "word_2": " Lantern", "word_3": "river."},
        {"word_1": "copper", "word_3": "lantern river"},
    ],
)
def test_capitals_spaces_and_boxes_do_not_matter(
    client: Client, amaru: Membership, name: str, words: dict[str, str]
) -> None:
    assert client.post(DOOR, {"username": name, **words}).status_code == 302


def test_wrong_words_say_so_and_keep_what_was_typed(client: Client, amaru: Membership) -> None:
    answer = client.post(DOOR, {"username": "amaru-41", "word_1": "copper", "word_2": "lantern"})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "do not fit together" in page
    assert 'value="amaru-41"' in page
    assert 'value="lantern"' in page


def test_an_unknown_name_id_gets_the_same_answer(client: Client, amaru: Membership) -> None:
    known = client.post(DOOR, {"username": "amaru-41", "word_1": "x"}).content.decode()
    unknown = client.post(DOOR, {"username": "ghost-99", "word_1": "x"}).content.decode()
    sentence = "This name-id and these words do not fit together. Look at your card and try once more."
    assert sentence in known
    assert sentence in unknown


def test_blank_boxes_are_told_apart_from_wrong_ones(client: Client) -> None:
    page = client.post(DOOR, {"username": "", "word_1": ""}).content.decode()
    assert "Type the name-id from your card" in page
    page = client.post(DOOR, {"username": "amaru-41"}).content.decode()
    assert "Type the three words from your card." in page


def test_a_director_signs_in_with_address_and_password(client: Client, director: Membership) -> None:
    director.user.set_password("four green valves")
    director.user.save()
    answer = client.post(
        STAFF_DOOR, {"username": director.user.sign_in_name.upper(), "password": "four green valves"}
    )
    assert (answer.status_code, answer["Location"]) == (302, "/")


def test_a_password_is_not_forgiven_as_words_are(client: Client, director: Membership) -> None:
    director.user.set_password("Four Green Valves")
    director.user.save()
    for wrong in ("four green valves", "Four-Green-Valves", " Four Green Valves"):
        answer = client.post(STAFF_DOOR, {"username": director.user.sign_in_name, "password": wrong})
        assert answer.status_code == 422


def test_whoever_is_in_no_band_any_more_is_told_and_not_signed_in(
    client: Client, amaru: Membership, at: datetime
) -> None:
    Membership.objects.update(ended_at=at)
    answer = client.post(DOOR, {"username": "amaru-41", **WORDS})
    assert answer.status_code == 422
    assert "You are in no band any more." in answer.content.decode()
    assert "_auth_user_id" not in client.session


def test_a_shared_laptop_forgets_the_session_with_its_window(client: Client, amaru: Membership) -> None:
    client.post(DOOR, {"username": "amaru-41", **WORDS, "shared": "on"})
    assert client.session.get_expire_at_browser_close()
    client.post(DOOR, {"username": "amaru-41", **WORDS})
    assert not client.session.get_expire_at_browser_close()


def test_next_is_followed_on_this_server(client: Client, amaru: Membership) -> None:
    answer = client.post(DOOR, {"username": "amaru-41", **WORDS, "next": "/work/7/?a=1"})
    assert answer["Location"] == "/work/7/?a=1"


@pytest.mark.parametrize(
    "elsewhere",
    [
        "https://evil.example/",
        "//evil.example/",
        r"\\evil.example",
        "javascript:alert(1)",
        "http:///evil.example",
    ],
)
def test_next_never_leads_elsewhere(client: Client, amaru: Membership, elsewhere: str) -> None:
    assert "evil" not in client.get(DOOR, {"next": elsewhere}).content.decode()
    answer = client.post(DOOR, {"username": "amaru-41", **WORDS, "next": elsewhere})
    assert answer["Location"] == "/"


def test_the_page_keeps_next_for_either_door(client: Client) -> None:
    page = client.get(DOOR, {"next": "/work/7/?a=1&b=2"}).content.decode()
    assert '<input type="hidden" name="next" value="/work/7/?a=1&amp;b=2">' in page
    assert 'href="/sign-in/staff/?next=%2Fwork%2F7%2F%3Fa%3D1%26b%3D2"' in page


def test_whoever_is_in_already_goes_on(sign_in, amaru: Membership) -> None:
    assert sign_in(amaru.user).get(DOOR)["Location"] == "/"
    assert sign_in(amaru.user).get(DOOR, {"next": "/work/7/"})["Location"] == "/work/7/"


def test_the_door_shows_empty_chairs_and_nobody(
    client: Client, amaru: Membership, director: Membership
) -> None:
    page = client.get(DOOR).content.decode()
    assert page.count('href="#sign-none"') == 54
    for private in (
        amaru.user.first_name,
        amaru.user.last_name,
        director.user.first_name,
        "seat--",
        "<title></title>",
    ):
        assert private not in page
    assert amaru.band.name in page


def test_with_two_bands_on_the_server_the_door_names_neither(client: Client, band: Band) -> None:
    factories.make_band(name="Other Band")
    page = client.get(DOOR).content.decode()
    assert "Other Band" not in page
    assert band.name not in page


def test_signing_out_is_a_post(sign_in, amaru: Membership) -> None:
    client = sign_in(amaru.user)
    assert client.get(reverse("people:sign-out")).status_code == 405
    assert client.post(reverse("people:sign-out"))["Location"] == DOOR
    assert "_auth_user_id" not in client.session


def test_signing_in_needs_the_token_of_the_form(amaru: Membership) -> None:
    strict = Client(enforce_csrf_checks=True)
    assert strict.post(DOOR, {"username": "amaru-41", **WORDS}).status_code == 403


@pytest.mark.parametrize(
    ("proxies", "forwarded", "address"),
    [
        (0, "203.0.113.9", "10.0.0.1"),
        (1, "203.0.113.9", "203.0.113.9"),
        (1, "6.6.6.6, 203.0.113.9", "203.0.113.9"),
        (2, "6.6.6.6, 203.0.113.9, 10.0.0.8", "203.0.113.9"),
        (1, "", "10.0.0.1"),
        (1, "nonsense", "10.0.0.1"),
        (1, "2001:DB8::1", "2001:db8::1"),
    ],
)
def test_the_address_is_the_one_our_own_proxy_saw(
    settings, proxies: int, forwarded: str, address: str
) -> None:
    settings.PROXY_COUNT = proxies
    request = RequestFactory().get("/", REMOTE_ADDR="10.0.0.1", headers={"x-forwarded-for": forwarded})
    assert visitor_address(request) == address


def test_without_any_address_there_is_none() -> None:
    assert visitor_address(RequestFactory().get("/", REMOTE_ADDR="")) is None


def test_passwords_are_stored_as_argon2id_with_the_parameters_chosen(settings) -> None:
    """m=19456 (19 MiB), t=2, p=1: OWASP Password Storage Cheat Sheet, from memory."""
    from bandroom.settings import base  # noqa: PLC0415  the test settings hash with MD5 for speed

    settings.PASSWORD_HASHERS = base.PASSWORD_HASHERS
    stored = make_password(normal_passphrase("copper lantern river"))
    assert stored.startswith("argon2$argon2id$v=19$m=19456,t=2,p=1$")
    assert get_hasher("default").verify("copper-lantern-river", stored)


def test_a_name_with_a_null_is_refused_in_words(client: Client) -> None:
    assert client.post(DOOR, {"username": "a\0b", "word_1": "x"}).status_code == 422


def test_html_in_the_boxes_comes_back_as_text(client: Client) -> None:
    page = client.post(DOOR, {"username": "<script>alert(1)</script>", "word_1": "<b>"}).content.decode()
    assert "<script>alert(1)" not in page
    assert "&lt;script&gt;alert(1)" in page


def test_visitors_are_sent_to_the_students_door(client: Client) -> None:
    assert django_settings.LOGIN_URL == "people:sign-in"
    assert client.get(reverse("people:band"))["Location"] == "/sign-in/?next=/band/"


def test_two_bands_of_one_person_can_be_chosen(sign_in, director: Membership) -> None:
    other = factories.make_band(name="Jazz Band")
    Membership.objects.create(band=other, user=director.user, role=Role.SUBSTITUTE)
    client = sign_in(director.user)
    page = client.get(reverse("people:band")).content.decode()
    assert "<h1>Harrow Bend Band</h1>" in page
    assert "Change band" in page
    assert client.post(reverse("people:choose-band"), {"band": other.pk})["Location"] == "/"
    assert "<h1>Jazz Band</h1>" in client.get(reverse("people:band")).content.decode()
    assert client.get(reverse("people:settings")).status_code == 404  # a substitute there


def test_a_band_one_does_not_belong_to_cannot_be_chosen(sign_in, director: Membership) -> None:
    other = factories.make_band(name="Jazz Band")
    client = sign_in(director.user)
    for band in (str(other.pk), "", "x"):
        assert client.post(reverse("people:choose-band"), {"band": band}).status_code == 404
    assert "Change band" not in client.get(reverse("people:band")).content.decode()
