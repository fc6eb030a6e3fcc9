"""What a family may ask for: everything as files, everything erased."""

import io
import json
import zipfile
from collections.abc import Iterable
from datetime import datetime

import pytest
from django.db import DatabaseError
from django.test import RequestFactory
from django.urls import reverse

from bandroom.people import throttle
from bandroom.people.models import Band, Membership, Seat, User, WrongTries
from bandroom.people.services.families import ExportFile, erase_student, export_zip
from tests import factories
from tests.conftest import NOW

pytestmark = pytest.mark.django_db
ERASED: list[tuple[str, str]] = []


def sound_of(*, band: Band, student: User) -> Iterable[ExportFile]:
    yield ExportFile.of_bytes(f"sound/{student.sign_in_name}.txt", b"la la la" * 500_000)


def note_erased(*, band: Band, student: User) -> None:
    assert Seat.objects.filter(student=student).exists()  # before any row of people goes
    ERASED.append((band.name, student.sign_in_name))


def fail(*, band: Band, student: User) -> None:
    raise DatabaseError("database is locked")


@pytest.fixture
def ada(section) -> Membership:
    student = factories.make_user(first_name="Ada", last_name="Marsh", sign_in_name="ada-11")
    factories.make_seat(section=section, student=student)
    ERASED.clear()
    return student.memberships.get()


def test_a_family_gets_everything_this_app_knows(
    sign_in, director: Membership, ada: Membership, at: datetime, settings
) -> None:
    settings.FAMILY_EXPORTERS = []
    old = ada.user.seats.get()
    old.until = old.since.replace(month=9, day=30)
    old.save()
    factories.make_seat(
        section=old.section, student=ada.user, instrument="oboe", since=old.since.replace(month=10, day=1)
    )
    answer = sign_in(director.user).get(reverse("people:student-export", args=[ada.pk]))
    assert answer["Content-Type"] == "application/zip"
    assert 'filename="ada-11-' in answer["Content-Disposition"]
    archive = zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content)))
    assert archive.testzip() is None
    assert archive.namelist() == ["student.json"]
    told = json.loads(archive.read("student.json"))
    assert (told["first_name"], told["last_name"], told["name_id"]) == ("Ada", "Marsh", "ada-11")
    assert [(seat["instrument"], seat["from"], seat["until"]) for seat in told["seats"]] == [
        ("B♭ clarinet", "2026-08-24", "2026-09-30"),
        ("Oboe", "2026-10-01", None),
    ]
    assert "password" not in json.dumps(told)


def test_other_apps_add_their_files(settings, ada: Membership) -> None:
    settings.FAMILY_EXPORTERS = [f"{__name__}.sound_of"]
    with export_zip(membership=ada) as file, zipfile.ZipFile(file) as archive:
        assert archive.namelist() == ["student.json", "sound/ada-11.txt"]
        assert len(archive.read("sound/ada-11.txt")) == 4_000_000


def test_erasing_takes_everything_and_asks_other_apps_first(settings, ada: Membership) -> None:
    settings.FAMILY_ERASERS = [f"{__name__}.note_erased"]
    throttle.note_wrong(RequestFactory().post("/sign-in/"), name="ada-11", at=NOW)
    erase_student(membership=ada, at=NOW)
    assert [(ada.band.name, "ada-11")] == ERASED
    assert not User.objects.filter(sign_in_name="ada-11").exists()
    assert not Seat.objects.exists()
    # what is left is the room that the network used up
    assert WrongTries.objects.count() == 2


def test_if_another_app_fails_nothing_is_erased(settings, ada: Membership) -> None:
    settings.FAMILY_ERASERS = [f"{__name__}.note_erased", f"{__name__}.fail"]
    with pytest.raises(DatabaseError):
        erase_student(membership=ada, at=NOW)
    assert Membership.objects.filter(pk=ada.pk, user__sign_in_name="ada-11").exists()
    assert Seat.objects.count() == 1


def test_what_another_band_keeps_about_the_student_stays(ada: Membership) -> None:
    jazz = factories.make_section(band=factories.make_band(name="Jazz Band"))
    factories.make_seat(section=jazz, student=ada.user)
    erase_student(membership=ada, at=NOW)
    assert [seat.section for seat in Seat.objects.all()] == [jazz]
    assert User.objects.filter(sign_in_name="ada-11").exists()


def test_the_name_id_must_be_typed(sign_in, director: Membership, ada: Membership) -> None:
    client, url = sign_in(director.user), reverse("people:student-erase", args=[ada.pk])
    for typed in ("", "ada-12"):
        answer = client.post(url, {"name_id": typed})
        assert answer.status_code == 422
        assert Seat.objects.count() == 1
    answer = client.post(url, {"name_id": "Ada 11"}, follow=True)
    assert "Everything about Ada Marsh is erased." in answer.content.decode()
    assert not Seat.objects.exists()
