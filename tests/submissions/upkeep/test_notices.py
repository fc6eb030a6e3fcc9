"""What the week page says of the school's computer, and what it says to whoever watches it."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.utils.timezone import now

from bandroom import room
from submissions.models import Take
from submissions.turn_ins.policy import policy_of
from submissions.upkeep import beats, clock, readiness
from submissions.upkeep.notices import Kind, notices
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _ask_anew(monkeypatch):
    monkeypatch.setattr(readiness, "_told", None)


@pytest.fixture
def take(section, seat) -> Take:
    assignment = factories.make_assignment(
        band=section.band,
        sections=[section],
        opens_at=now() - timedelta(days=5),
        due_at=now() - timedelta(days=2),
        closes_at=now() - timedelta(days=1),
    )
    return Take.objects.create(
        assignment=assignment,
        seat=seat,
        lines=["A"],
        state=Take.State.RECEIVED,
        declared_at=now(),
        received_at=now(),
        declared_bytes=1,
        declared_sha256="0" * 64,
    )


def kinds(band, at: datetime) -> list[Kind]:
    return [notice.kind for notice in notices(band=band, policy=policy_of(band), at=at)]


def test_where_all_is_well_nothing_is_said(band, take):
    beats.beat(name="here", at=now())

    assert kinds(band, now()) == []


def test_a_worker_that_was_never_started_or_is_silent_for_two_minutes(band):
    at = now()
    assert kinds(band, at) == [Kind.WORKER_SILENT]
    beats.beat(name="here", at=at)
    assert kinds(band, at + timedelta(minutes=2)) == []
    assert kinds(band, at + timedelta(minutes=2, seconds=1)) == [Kind.WORKER_SILENT]
    beats.beat(name="there", at=at + timedelta(minutes=2))
    assert kinds(band, at + timedelta(minutes=3)) == []


def test_takes_that_wait_longer_than_ten_minutes(band, take):
    later = take.received_at + timedelta(minutes=10)
    beats.beat(name="here", at=later)

    assert kinds(band, later) == []
    assert kinds(band, later + timedelta(seconds=1)) == [Kind.TAKES_WAIT]
    assert kinds(factories.make_band(name="Elsewhere"), later + timedelta(seconds=1)) == []


def test_what_is_deleted_next_week_and_that_the_disk_is_full(band, take, monkeypatch):
    Take.objects.update(state=Take.State.READY)
    at = now() + timedelta(days=115)
    beats.beat(name="here", at=at)
    monkeypatch.setattr(room, "is_short", lambda: True)

    assert kinds(band, at) == [Kind.DISK_FULL, Kind.DELETED_NEXT_WEEK]


def test_their_words(band, section, seat, director, take, sign_in):
    zone = ZoneInfo(band.time_zone)
    Take.objects.update(received_at=now() - timedelta(minutes=30))
    clock.look(at=now() - timedelta(days=90))
    clock.look(at=now())
    client = sign_in(director.user)

    page = " ".join(client.get("/week/").content.decode().split())
    assert "the program that prepares them was never started." in page
    assert "recording cannot be played yet" not in page
    believed = (now() + timedelta(days=7)).astimezone(zone)
    assert f"deleting goes on by itself on {believed:%A} {believed.day} {believed:%B}." in page

    beats.beat(name="here", at=now())
    page = " ".join(client.get("/week/").content.decode().split())
    assert "<b>1 recording cannot be played yet.</b> It is safe and waits to be prepared, since" in page
    assert "worker" not in page


def test_next_week_in_words_and_only_a_director_may_keep_them(
    section, seat, director, substitute, take, sign_in
):
    Take.objects.update(state=Take.State.READY)
    take.assignment.postings.update(
        opens_at=now() - timedelta(days=125),
        due_at=now() - timedelta(days=120),
        closes_at=now() - timedelta(days=118),
    )
    beats.beat(name="here", at=now())
    said = "<b>1 recording will be deleted in the next seven days:</b> 1 of “"

    page = " ".join(sign_in(director.user).get("/week/").content.decode().split())
    assert said in page
    assert "Recordings are kept for 120 days after closing; marks stay." in page
    assert "Keep them longer" in page
    page = " ".join(sign_in(substitute.user).get("/week/").content.decode().split())
    assert said in page
    assert "Keep them longer" not in page


# /alive and /ready.


def test_alive_asks_nothing_of_anything(django_assert_num_queries):
    with django_assert_num_queries(0):
        answer = Client().get("/alive")

    assert (answer.status_code, answer.json()) == (200, {"alive": True})
    assert "no-store" in answer["Cache-Control"]


def test_ready_says_yes_or_no_to_each_and_nothing_else(take):
    beats.beat(name="here", at=now())

    answer = Client().get("/ready")

    well = dict.fromkeys(("ready", "database", "migrations", "storage", "takes", "worker"), True)
    assert (answer.status_code, answer.json()) == (200, well)


@pytest.mark.parametrize("name", ["takes", "worker", "storage"])
def test_one_that_is_not_well_is_named(name, take, settings, tmp_path):
    beats.beat(name="here", at=now() - timedelta(minutes=3 if name == "worker" else 0))
    if name == "takes":
        Take.objects.update(received_at=now() - timedelta(minutes=11))
    if name == "storage":
        (tmp_path / "file").write_text("no folder")
        settings.STORAGES = settings.STORAGES | {
            "takes": settings.STORAGES["takes"] | {"OPTIONS": {"location": str(tmp_path / "file")}}
        }

    answer = Client().get("/ready")

    assert answer.status_code == 503
    assert [key for key, well in answer.json().items() if not well] == ["ready", name]


def test_the_storage_is_not_written_to_at_every_question(take, settings, tmp_path):
    settings.STORAGES = settings.STORAGES | {
        "takes": settings.STORAGES["takes"] | {"OPTIONS": {"location": str(tmp_path)}}
    }
    beats.beat(name="here", at=now())
    assert Client().get("/ready").status_code == 200
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []
    settings.STORAGES = settings.STORAGES | {"takes": {"BACKEND": "no.such.Storage"}}

    assert Client().get("/ready").status_code == 200
