"""Guessing at the door is slowed down, and nobody who has the right words is locked out."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.test import Client, RequestFactory
from django.urls import reverse

from bandroom.people import throttle
from bandroom.people.models import Band, Membership, WrongTries
from bandroom.people.passphrases import normal_passphrase, passphrase_words
from tests import factories

pytestmark = pytest.mark.django_db
START = datetime(2026, 10, 6, 15, 0, tzinfo=UTC)
DOOR, STAFF_DOOR = "/sign-in/", "/sign-in/staff/"
WORDS = {"word_1": "copper", "word_2": "lantern", "word_3": "river"}
SCHOOL, HOME = "198.51.100.7", "203.0.113.9"


@pytest.fixture
def amaru(band: Band) -> Membership:
    seat = factories.make_seat(section=factories.make_section(band=band))
    user = seat.student
    user.sign_in_name = "amaru-41"
    user.set_password(normal_passphrase("copper lantern river"))
    user.save()
    return user.memberships.get()


def try_words(client: Client, *, name: str = "amaru-41", address: str = SCHOOL, **words: str) -> int:
    sent = {"username": name, **(words or {"word_1": "no"})}
    return client.post(DOOR, sent, REMOTE_ADDR=address).status_code


def test_guessing_a_card_of_any_of_1000_students_takes_more_than_ten_years():
    words = len(passphrase_words())
    cards = words * (words - 1) * (words - 2)
    tries_a_second = 1000 / throttle.ACCOUNT.rest.total_seconds()
    # what the places allow at once is spent first
    at_once = 1000 * throttle.ACCOUNT.places
    on_average = (cards / 2 - at_once) / tries_a_second

    assert on_average / (365.25 * 24 * 3600) > 10


def test_a_thousand_tries_of_a_day_from_many_networks_are_few(amaru: Membership):
    """From a network of its own each time; only so many get an answer."""
    answers = []
    for minute in range(0, 24 * 60, 2):
        with time_machine.travel(START + timedelta(minutes=minute), tick=False):
            answers.append(try_words(Client(), address=f"203.0.{minute % 250}.{minute // 250 + 1}"))
    allowed = answers.count(422)

    a_day = throttle.ACCOUNT.places + timedelta(days=1) / throttle.ACCOUNT.rest
    assert allowed == pytest.approx(a_day, abs=2)
    assert answers.count(429) == len(answers) - allowed


@time_machine.travel(START, tick=False)
def test_eight_wrong_tries_in_the_schools_network_lock_nobody_out(amaru: Membership, director: Membership):
    director.user.set_password("four words of mine")
    director.user.save()
    prankster = Client()
    for _ in range(8):
        assert try_words(prankster) == 422
        guess = {"username": director.user.sign_in_name, "password": "no"}
        assert prankster.post(STAFF_DOOR, guess, REMOTE_ADDR=SCHOOL).status_code == 422

    assert try_words(Client(), **WORDS) == 302
    given = {"username": director.user.sign_in_name, "password": "four words of mine"}
    assert Client().post(STAFF_DOOR, given, REMOTE_ADDR=SCHOOL).status_code == 302


def test_after_twenty_here_the_wait_is_said_and_is_over_when_it_says():
    client = Client()
    with time_machine.travel(START, tick=False):
        assert [try_words(client) for _ in range(21)] == [422] * 20 + [429]
        answer = client.post(DOOR, {"username": "Amaru 41", **WORDS}, REMOTE_ADDR=SCHOOL)
    assert answer.status_code == 429
    assert "Wait 10 minutes, then try once more." in answer.content.decode()
    assert answer["Retry-After"] == "600"
    with time_machine.travel(START + timedelta(minutes=9, seconds=59), tick=False):
        assert try_words(client) == 429
    with time_machine.travel(START + timedelta(minutes=10), tick=False):
        assert [try_words(client), try_words(client)] == [422, 429]


@time_machine.travel(START, tick=False)
def test_a_classmate_who_used_up_one_network_keeps_nobody_out_elsewhere(amaru: Membership):
    for _ in range(30):
        try_words(Client())

    assert try_words(Client(), **WORDS) == 429
    assert try_words(Client(), address=HOME, **WORDS) == 302


@time_machine.travel(START, tick=False)
def test_a_browser_that_signed_in_before_is_never_kept_out_by_others(amaru: Membership):
    own = Client()
    assert try_words(own, **WORDS) == 302
    own.post(reverse("people:sign-out"))
    for n in range(80):
        try_words(Client(), address=f"203.0.113.{n}")
    for _ in range(30):
        try_words(Client())
    assert try_words(Client(), **WORDS) == 429

    assert try_words(own, **WORDS) == 302


@time_machine.travel(START, tick=False)
def test_a_known_browser_is_slowed_down_for_its_own_wrong_tries(amaru: Membership):
    own = Client()
    try_words(own, **WORDS)
    own.post(reverse("people:sign-out"))

    assert [try_words(own) for _ in range(31)] == [422] * 30 + [429]


@time_machine.travel(START, tick=False)
def test_a_browser_is_known_for_the_account_that_signed_in_and_no_other(amaru: Membership):
    own = Client()
    try_words(own, **WORDS)
    own.post(reverse("people:sign-out"))

    assert [try_words(own, name="teo-60") for _ in range(21)] == [422] * 20 + [429]


@time_machine.travel(START, tick=False)
def test_a_shared_laptop_is_not_remembered(amaru: Membership):
    client = Client()

    assert try_words(client, shared="on", **WORDS) == 302

    assert throttle.COOKIE not in client.cookies


@time_machine.travel(START, tick=False)
def test_the_cookie_tells_nobody_who_signed_in(amaru: Membership):
    client = Client()
    try_words(client, **WORDS)

    cookie = client.cookies[throttle.COOKIE]
    assert (cookie["httponly"], cookie["samesite"], cookie["max-age"]) == (True, "Lax", 365 * 24 * 3600)
    assert "amaru" not in cookie.value


@time_machine.travel(START, tick=False)
@pytest.mark.parametrize("forged", ["", "nonsense", "[]:1:2", "a:b:c:d"])
def test_a_forged_cookie_is_a_strangers(amaru: Membership, forged: str):
    client = Client()
    client.cookies[throttle.COOKIE] = forged

    assert [try_words(client) for _ in range(21)] == [422] * 20 + [429]


@time_machine.travel(START, tick=False)
def test_signing_in_gives_the_places_here_back(amaru: Membership):
    client = Client()
    for _ in range(19):
        try_words(client, shared="on", word_1="no")
    assert try_words(client, shared="on", **WORDS) == 302
    client.post(reverse("people:sign-out"))

    assert [try_words(client) for _ in range(20)] == [422] * 20


@time_machine.travel(START, tick=False)
def test_a_network_has_room_for_a_grade_that_mistypes_and_for_no_more():
    answers = [try_words(Client(), name=f"child-{n}") for n in range(301)]

    assert answers == [422] * 300 + [429]


@pytest.mark.parametrize(
    ("address", "network"),
    [
        ("203.0.113.9", "203.0.113.9"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("2001:db8:1:2:ffff::1", "2001:db8:1:2::/64"),
        ("::ffff:203.0.113.9", "203.0.113.9"),
        (None, ""),
    ],
)
def test_ipv6_is_counted_by_its_network(address: str | None, network: str):
    assert throttle.network_of(address) == network


@time_machine.travel(START, tick=False)
def test_what_is_counted_is_stored_without_names_or_addresses(amaru: Membership):
    try_words(Client())

    stored = "".join(WrongTries.objects.values_list("counted", flat=True))
    assert len(stored) == 3 * 64
    assert set(stored) <= set("0123456789abcdef")


def test_what_has_its_places_back_is_forgotten():
    request = RequestFactory().post(DOOR, REMOTE_ADDR=SCHOOL)
    throttle.note_wrong(request, name="amaru-41", at=START)

    assert throttle.forget_old(at=START + timedelta(hours=9)) == 0
    assert throttle.forget_old(at=START + timedelta(hours=11)) == 3


def test_signing_in_asks_one_question_more(amaru: Membership, django_assert_num_queries):
    request = RequestFactory().post(DOOR, REMOTE_ADDR=SCHOOL)

    with django_assert_num_queries(1):
        assert throttle.wait(request, name="amaru-41", at=START) == timedelta()
