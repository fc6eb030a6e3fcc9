"""The phrase bank's page."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse
from lxml import html

from bandroom.people.models import Band, Membership
from submissions.grading.services.phrases import add_phrase
from submissions.models import Phrase
from tests import factories

pytestmark = pytest.mark.django_db
PAGE = reverse("submissions:phrases")


@pytest.fixture
def phrase(band: Band) -> Phrase:
    return add_phrase(band=band, kind=Phrase.Kind.NEXT_STEP, label="name it", text="Say the names.")


def post(client: Client, name: str, *args: int, **fields: str):
    return client.post(reverse(f"submissions:phrase-{name}", args=args), fields)


def test_a_phrase_is_added_changed_moved_and_deleted(desk: Client, band: Band, phrase: Phrase):
    fields = {"kind": "next_step", "next_step-label": "slower", "next_step-text": "Half as fast."}
    assert post(desk, "add", **fields)["Location"] == PAGE
    added = Phrase.objects.get(label="slower")
    post(desk, "edit", added.pk, **{f"p{added.pk}-label": "slow", f"p{added.pk}-text": "Slowly."})
    post(desk, "move", added.pk, way="up")
    assert [(p.label, p.text) for p in Phrase.objects.all()] == [
        ("slow", "Slowly."),
        ("name it", "Say the names."),
    ]
    post(desk, "move", added.pk, way="down")
    assert [p.label for p in Phrase.objects.all()] == ["name it", "slow"]
    post(desk, "delete", phrase.pk)
    assert [p.label for p in Phrase.objects.all()] == ["slow"]


def test_the_page_shows_both_kinds(desk: Client, phrase: Phrase):
    page = html.fromstring(desk.get(PAGE).content.decode())
    assert [h2.text_content() for h2 in page.cssselect("main h2")] == ["One thing that worked", "Next step"]
    assert page.cssselect(f"#id_p{phrase.pk}-label")[0].get("value") == "name it"


def test_an_empty_phrase_is_refused_and_what_was_typed_stays(desk: Client, phrase: Phrase):
    response = post(desk, "add", kind="worked", **{"worked-label": "steady", "worked-text": ""})
    assert response.status_code == 422
    page = html.fromstring(response.content.decode())
    assert page.cssselect("#id_worked-label")[0].get("value") == "steady"
    name = f"p{phrase.pk}"
    response = post(desk, "edit", phrase.pk, **{f"{name}-label": "x" * 31, f"{name}-text": "kept"})
    assert response.status_code == 422
    page = html.fromstring(response.content.decode())
    assert page.cssselect(f"#id_{name}-text")[0].get("value") == "kept"
    phrase.refresh_from_db()
    assert (phrase.label, Phrase.objects.count()) == ("name it", 1)


def test_a_kind_that_does_not_exist_is_refused(desk: Client):
    assert post(desk, "add", kind="praise", **{"praise-label": "x", "praise-text": "y"}).status_code == 422
    assert Phrase.objects.count() == 0


def test_a_substitute_and_another_band_find_no_such_page(
    phrase: Phrase, substitute: Membership, sign_in: Callable[..., Client]
):
    stranger = factories.make_staff(band=factories.make_band(name="Elsewhere"))
    for client in (sign_in(substitute.user), sign_in(stranger.user)):
        for name in ("edit", "move", "delete"):
            assert post(client, name, phrase.pk).status_code == 404
    assert sign_in(substitute.user).get(PAGE).status_code == 404
    assert post(sign_in(substitute.user), "add").status_code == 404
    assert b"Say the names." not in sign_in(stranger.user).get(PAGE).content


def test_methods(desk: Client, phrase: Phrase):
    assert desk.post(PAGE).status_code == 405
    assert desk.get(reverse("submissions:phrase-add")).status_code == 405
    for name in ("edit", "move", "delete"):
        assert desk.get(reverse(f"submissions:phrase-{name}", args=[phrase.pk])).status_code == 405
