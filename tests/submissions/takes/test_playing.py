"""A take is played in pieces, to those who may hear it, and every listen of an adult is on record.

Status codes and headers by RFC 9110, sections 13 and 14.
"""

from datetime import timedelta

import pytest
import time_machine
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.test import Client
from django.utils.timezone import now

from submissions.models import Listen, Take
from submissions.takes.files import random_name
from tests import factories

pytestmark = pytest.mark.django_db
SOUND = bytes(range(256)) * 1000


@pytest.fixture
def take(seat, assignment) -> Take:
    name = random_name()
    storages["takes"].save(name, ContentFile(SOUND))
    return Take.objects.create(
        assignment=assignment,
        seat=seat,
        lines=["A"],
        state=Take.State.READY,
        declared_at=now(),
        declared_bytes=10,
        declared_sha256="0" * 64,
        served=name,
        served_type="audio/webm",
        served_bytes=len(SOUND),
    )


@pytest.fixture
def sound(take) -> str:
    return f"/takes/{take.pk}/sound"


def body(response) -> bytes:
    return b"".join(response.streaming_content) if response.streaming else response.content


def test_whole(phone, sound):
    response = phone.client.get(sound)

    assert (response.status_code, body(response)) == (200, SOUND)
    assert response.headers["Content-Type"] == "audio/webm"
    assert response.headers["Content-Length"] == str(len(SOUND))
    assert response.headers["Accept-Ranges"] == "bytes"
    assert response.headers["Cache-Control"] == "private, no-store"
    assert response.headers["X-Content-Type-Options"] == "nosniff"
    assert response.headers["Content-Disposition"] == 'inline; filename="take"'


def test_nothing_of_the_storage_is_told(phone, take, sound):
    response = phone.client.get(sound)

    assert take.served not in str(response.headers)
    assert body(response)


@pytest.mark.parametrize(
    ("asked", "first", "last"),
    [("bytes=0-", 0, 255_999), ("bytes=1000-1999", 1000, 1999), ("bytes=-100", 255_900, 255_999),
     ("bytes=255999-", 255_999, 255_999), ("bytes=0-999999", 0, 255_999)],
)  # fmt: skip
def test_a_range(phone, sound, asked, first, last):
    response = phone.client.get(sound, headers={"Range": asked})

    assert (response.status_code, body(response)) == (206, SOUND[first : last + 1])
    assert response.headers["Content-Range"] == f"bytes {first}-{last}/256000"
    assert response.headers["Content-Length"] == str(last - first + 1)
    assert response.headers["Cache-Control"] == "private, no-store"


def test_behind_the_end(phone, sound):
    response = phone.client.get(sound, headers={"Range": "bytes=256000-"})

    assert (response.status_code, body(response)) == (416, b"")
    assert response.headers["Content-Range"] == "bytes */256000"


@pytest.mark.parametrize("asked", ["bytes=0-1,5-6", "pages=1-2", "bytes=9-3"])
def test_a_range_that_is_not_understood_gets_the_whole(phone, sound, asked):
    response = phone.client.get(sound, headers={"Range": asked})

    assert (response.status_code, body(response)) == (200, SOUND)


def test_a_range_only_if_the_file_is_still_the_same(phone, sound):
    etag = phone.client.head(sound).headers["ETag"]
    headers = {"Range": "bytes=0-9"}

    same = phone.client.get(sound, headers=headers | {"If-Range": etag})
    other = phone.client.get(sound, headers=headers | {"If-Range": '"another"'})
    dated = phone.client.get(sound, headers=headers | {"If-Range": "Tue, 06 Oct 2026 20:00:00 GMT"})

    assert (same.status_code, body(same)) == (206, SOUND[:10])
    assert (other.status_code, body(other)) == (200, SOUND)
    assert (dated.status_code, body(dated)) == (200, SOUND)


def test_a_copy_that_the_browser_has_is_not_sent_again(phone, sound):
    etag = phone.client.head(sound).headers["ETag"]

    for known in (etag, f'"other", W/{etag}'):
        response = phone.client.get(sound, headers={"If-None-Match": known})
        assert (response.status_code, body(response)) == (304, b"")


def test_head_tells_the_length_without_the_sound(phone, sound):
    response = phone.client.head(sound)

    assert (response.status_code, body(response)) == (200, b"")
    assert response.headers["Content-Length"] == str(len(SOUND))
    assert response.headers["Content-Type"] == "audio/webm"


@pytest.mark.parametrize("state", [s for s in Take.State if s != Take.State.READY])
def test_only_what_is_ready_is_played(phone, take, sound, state):
    Take.objects.filter(pk=take.pk).update(state=state)

    assert phone.client.get(sound).status_code == 404


def test_a_file_that_is_gone_is_not_found(phone, take, sound):
    storages["takes"].delete(take.served)

    assert phone.client.get(sound).status_code == 404


def test_who_may_hear_it(phone, sound, section, director, substitute, sign_in):
    classmate = factories.make_seat(section=section).student
    elsewhere = factories.make_band(name="Elsewhere")
    other_director = factories.make_staff(band=elsewhere).user
    other_student = factories.make_seat(section=factories.make_section(band=elsewhere)).student

    for user, status in (
        (director.user, 200),
        (substitute.user, 200),
        (classmate, 404),
        (other_director, 404),
        (other_student, 404),
    ):
        response = sign_in(user).get(sound)
        assert response.status_code == status
        body(response)
    visitor = Client().get(sound, headers={"X-Requested-With": "bandroom"})
    assert visitor.status_code == 401
    assert phone.client.post(sound).status_code == 405


# Every listen is logged.


def test_an_adults_listen_is_logged_once_for_a_sitting(take, sound, staff, director):
    start = now()
    for minutes, asked in ((0, "bytes=0-"), (1, "bytes=1000-"), (29, "bytes=0-"), (31, "bytes=0-")):
        with time_machine.travel(start + timedelta(minutes=minutes), tick=False):
            staff.force_login(director.user, backend="bandroom.people.signing_in.NameBackend")
            response = staff.get(sound, headers={"Range": asked})
            assert (response.status_code, len(body(response)) > 0) == (206, True)

    listens = Listen.objects.order_by("at")
    assert [(row.take, row.listener) for row in listens] == [(take, director.user)] * 2
    assert [row.at - start for row in listens] == [timedelta(0), timedelta(minutes=31)]


def test_each_adult_is_logged_and_the_student_is_not(phone, sound, director, substitute, sign_in):
    body(phone.client.get(sound))
    for member in (director, substitute, director):
        body(sign_in(member.user).get(sound))

    assert {row.listener for row in Listen.objects.all()} == {director.user, substitute.user}
    assert Listen.objects.count() == 2


def test_asking_for_the_length_is_no_listen(sound, staff):
    staff.head(sound)

    assert not Listen.objects.exists()


# Other ways of delivery.


def test_the_web_server_in_front_may_deliver_it(settings, take, sound, staff):
    settings.TAKES_DELIVERY = "x-accel"

    response = staff.get(sound)

    assert response.headers["X-Accel-Redirect"] == f"/takes-on-disk/{take.served}"
    assert (response.content, response.headers["Content-Type"]) == (b"", "audio/webm")
    assert response.headers["Cache-Control"] == "private, no-store"
    assert Listen.objects.count() == 1


def test_object_storage_may_deliver_it_by_an_address_that_ends(settings, take, sound, staff):
    """Signed offline by boto3; nothing is asked of any server."""
    settings.TAKES_DELIVERY = "redirect"
    settings.STORAGES = settings.STORAGES | {
        "takes": {
            "BACKEND": "storages.backends.s3.S3Storage",
            "OPTIONS": {
                "bucket_name": "takes",
                "endpoint_url": "https://objects.school.example",
                "access_key": "key",
                "secret_key": "secret",
                "region_name": "us-east-1",
                "querystring_auth": True,
            },
        }
    }

    response = staff.get(sound)

    assert response.status_code == 302
    address = response.headers["Location"]
    assert address.startswith(f"https://objects.school.example/takes/{take.served}?")
    assert "response-content-type=audio%2Fwebm" in address
    assert "Expires=" in address
    assert Listen.objects.count() == 1
