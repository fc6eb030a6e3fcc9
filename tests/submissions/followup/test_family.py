"""A family gets everything, and can have everything erased."""

import json
import zipfile
from collections.abc import Callable
from datetime import timedelta
from io import BytesIO

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.test import Client
from django.utils.timezone import now

from bandroom.people.models import Membership, Seat, User
from submissions.models import Assignment, Hearing, Mark, Return, Take, TurnIn
from submissions.turn_ins import services as turn_ins
from tests import factories

pytestmark = pytest.mark.django_db(transaction=True)
SignIn = Callable[[User], Client]


def with_work(seat: Seat, assignment: Assignment) -> Take:
    """A take turned in, marked and returned."""
    take = Take.objects.create(
        assignment=assignment,
        seat=seat,
        lines=["A"],
        state=Take.State.READY,
        declared_at=now() - timedelta(hours=1),
        declared_bytes=5,
        declared_sha256="0" * 64,
        original=storages["takes"].save("family/original", ContentFile(b"as sent")),
        served=storages["takes"].save("family/served", ContentFile(b"sound")),
        served_type="audio/webm",
    )
    Hearing.objects.create(take=take, engine_version="1", queued_at=now())
    row = turn_ins.turn_in(
        seat=seat, posting=assignment.postings.get(), takes={"A": take}, at=now() - timedelta(hours=1)
    )
    criterion = assignment.rubric.criteria.first()
    assert criterion is not None
    Mark.objects.create(
        turn_in=row,
        attempt=1,
        line="A",
        criterion=criterion,
        level=criterion.levels.get(value=3),
        given_at=now(),
    )
    Return.objects.create(turn_in=row, attempt=1, worked="Steady", returned_at=now())
    return take


@pytest.fixture
def assignment(seat: Seat) -> Assignment:
    return factories.make_assignment(
        band=seat.section.band, sections=[seat.section], opens_at=now() - timedelta(days=1)
    )


def test_a_family_gets_every_recording_and_every_mark(
    seat: Seat, assignment: Assignment, director: Membership, sign_in: SignIn
):
    take = with_work(seat, assignment)
    with_work(factories.make_seat(section=seat.section), assignment)
    member = Membership.objects.get(user=seat.student)
    response = sign_in(director.user).get(f"/band/students/{member.pk}/export/")
    archive = zipfile.ZipFile(BytesIO(b"".join(response)))
    day = seat.section.band.local(take.declared_at).date()
    recording = f"recordings/{day:%Y-%m-%d} no 1 line A {take.pk.hex[:8]}.webm"
    assert set(archive.namelist()) == {"student.json", "work.json", recording}
    assert archive.read(recording) == b"sound"
    (row,) = json.loads(archive.read("work.json"))["turn_ins"]
    (attempt,) = row["attempts"]
    assert attempt["what_worked"] == "Steady"
    assert attempt["marks"] == [
        {"line": "A", "criterion": "Right notes", "level": 3, "words": "Right notes at 3"}
    ]


def test_marks_still_on_the_desk_are_not_handed_out(
    seat: Seat, assignment: Assignment, director: Membership, sign_in: SignIn
):
    with_work(seat, assignment)
    Return.objects.update(returned_at=None)
    member = Membership.objects.get(user=seat.student)
    response = sign_in(director.user).get(f"/band/students/{member.pk}/export/")
    work = json.loads(zipfile.ZipFile(BytesIO(b"".join(response))).read("work.json"))
    assert work["turn_ins"][0]["attempts"] == []


def test_erasing_a_student_leaves_no_row_and_no_file(
    seat: Seat, assignment: Assignment, director: Membership, sign_in: SignIn
):
    take = with_work(seat, assignment)
    other = with_work(factories.make_seat(section=seat.section), assignment)
    member = Membership.objects.get(user=seat.student)
    page = f"/band/students/{member.pk}/erase/"
    response = sign_in(director.user).post(page, {"name_id": seat.student.sign_in_name})
    assert response.status_code == 302
    assert not User.objects.filter(pk=seat.student_id).exists()
    assert [row.seat for row in TurnIn.objects.all()] == [other.seat]
    assert not storages["takes"].exists(take.original)
    assert not storages["takes"].exists(take.served)
    assert storages["takes"].exists(other.served)
