"""What a section gets ready: the usual list, a director's own, and the way back."""

from collections.abc import Callable

import pytest
from django.test import Client

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Membership, Seat, Section, User
from submissions.models import Checklist
from submissions.working.checklists import items_for, tuning_item, usual_items
from tests import factories

pytestmark = pytest.mark.django_db
SignIn = Callable[[User], Client]


@pytest.fixture
def client(director: Membership, sign_in: SignIn) -> Client:
    return sign_in(director.user)


#: Concert B flat as each instrument names it, from the transpositions in any band method; from memory.
TUNING = {
    "flute": "B flat",
    "oboe": "B flat",
    "bassoon": "B flat",
    "clarinet": "C",
    "bass_clarinet": "C",
    "alto_sax": "G",
    "tenor_sax": "C",
    "bari_sax": "G",
    "trumpet": "C",
    "horn": "F",
    "trombone": "B flat",
    "baritone_bc": "B flat",
    "baritone_tc": "C",
    "tuba": "B flat",
}


@pytest.mark.parametrize(("player", "note"), TUNING.items())
def test_the_tuning_note_is_concert_b_flat_as_the_instrument_names_it(player: str, note: str):
    assert f"one long {note} to tune" in tuning_item(Instrument(player))


@pytest.mark.parametrize("player", list(Instrument))
def test_every_instrument_has_a_usual_list_with_posture(player: Instrument):
    items = usual_items(player)
    assert 3 <= len(items) <= 6
    assert any(item.startswith(("Sit tall", "Stand tall")) for item in items)


def test_a_directors_list_replaces_the_usual_one_for_the_whole_section(
    client: Client, section: Section, seat: Seat
):
    usual = items_for(seat)
    answer = client.post(
        f"/band/checklists/{section.pk}/", {"items": "  Wet   your reed\n\nBreathe\r\nBreathe\n"}
    )
    assert answer["Location"] == "/band/checklists/"
    assert items_for(seat) == ("Wet your reed", "Breathe")
    assert "Your own list." in client.get("/band/checklists/").content.decode()
    client.post(f"/band/checklists/{section.pk}/usual/")
    assert items_for(seat) == usual


def test_the_page_starts_from_the_usual_lists_of_who_sits_there(client: Client, section: Section, seat: Seat):
    factories.make_seat(section=section, instrument="alto_sax")
    html = client.get(f"/band/checklists/{section.pk}/").content.decode()
    assert html.count("Wet your reed.") == 1
    assert "Hook on your strap." in html
    assert "one long G to tune" in html


@pytest.mark.parametrize(
    ("items", "says"),
    [
        (" \n ", "Write at least one thing"),
        ("\n".join(f"Thing {n}" for n in range(13)), "That is 13 things. Keep it to 12"),
        ("x" * 121, "is too long. Say it in 120 letters."),
    ],
)
def test_a_list_that_cannot_be_kept_says_why_and_loses_nothing(
    client: Client, section: Section, items: str, says: str
):
    answer = client.post(f"/band/checklists/{section.pk}/", {"items": items})
    html = answer.content.decode()
    assert answer.status_code == 422
    assert says in html
    assert items.strip()[:20] in html
    assert not Checklist.objects.exists()


def test_html_in_a_list_is_shown_as_text(client: Client, section: Section, seat: Seat, sign_in: SignIn):
    client.post(f"/band/checklists/{section.pk}/", {"items": "<script>alert(1)</script>"})
    assert "<script>alert" not in client.get("/band/checklists/").content.decode()


def test_the_lists_cost_the_same_for_one_section_and_for_thirty(
    client: Client, band: Band, section: Section, django_assert_num_queries: Callable[..., object]
):
    for _ in range(30):
        factories.make_seat(section=factories.make_section(band=band))
    with django_assert_num_queries(5):
        client.get("/band/checklists/")


def test_only_this_bands_directors_come_in(
    section: Section, substitute: Membership, seat: Seat, sign_in: SignIn
):
    stranger = factories.make_staff(band=factories.make_band())
    for path in ("", f"{section.pk}/"):
        for user in (substitute.user, seat.student):
            assert sign_in(user).get(f"/band/checklists/{path}").status_code == 404
        assert Client().get(f"/band/checklists/{path}").status_code == 302
    assert sign_in(stranger.user).post(f"/band/checklists/{section.pk}/", {"items": "x"}).status_code == 404
    assert sign_in(stranger.user).post(f"/band/checklists/{section.pk}/usual/").status_code == 404
    assert not Checklist.objects.exists()
