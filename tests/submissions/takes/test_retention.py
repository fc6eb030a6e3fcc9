"""Recordings go when their time is over, on a family's wish, and with whatever they belonged to."""

from datetime import datetime, timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.core.management import call_command
from django.utils.timezone import now

from bandroom.management.commands.work import HOUSEKEEPING
from submissions.models import CountingTake, Piece, Policy, Take, TurnIn
from submissions.takes import tasks
from submissions.takes.files import random_name
from submissions.takes.services import arrival, retention
from submissions.turn_ins import services as turn_ins
from tests import factories

pytestmark = pytest.mark.django_db
SOUND = b"sound" * 50


@pytest.fixture
def take(assignment, seat) -> Take:
    return make_take(assignment, seat)


def make_take(assignment, seat, **fields: object) -> Take:
    original, served = random_name(), random_name()
    for name in (original, served):
        storages["takes"].save(name, ContentFile(SOUND + name.encode()))
    return Take.objects.create(
        **{
            "assignment": assignment,
            "seat": seat,
            "lines": ["A"],
            "state": Take.State.READY,
            "declared_at": now(),
            "declared_bytes": len(SOUND),
            "declared_sha256": "0" * 64,
            "received_at": now(),
            "original": original,
            "served": served,
            "served_type": "audio/mp4",
            "served_bytes": len(SOUND),
            "seconds": 3.0,
            "peaks": [1, 2, 3],
        }
        | fields
    )


def half_sent(assignment, seat, *, at: datetime | None = None) -> Take:
    take = Take.objects.create(
        assignment=assignment,
        seat=seat,
        lines=["A"],
        declared_at=now(),
        declared_bytes=len(SOUND),
        declared_sha256="0" * 64,
    )
    arrival.append(take_pk=take.pk, offset=0, piece=SOUND[:9], at=at or now())
    return take


def files() -> int:
    return sum(1 for path in Path(storages["takes"].location).rglob("*") if path.is_file())


def test_deleted_so_many_days_after_closing_and_not_before(take, assignment, band):
    Policy.objects.create(band=band, keep_takes_days=30)
    closes = assignment.postings.get().closes_at

    assert retention.delete_old_takes(at=closes + timedelta(days=30)) == 0
    assert files() == 2
    assert retention.delete_old_takes(at=closes + timedelta(days=30, seconds=1)) == 1
    assert files() == 0
    assert retention.delete_old_takes(at=closes + timedelta(days=31)) == 0


def test_the_row_stays_for_the_record_without_anything_of_the_sound(take, assignment, seat, phone):
    row = turn_ins.turn_in(seat=seat, posting=assignment.postings.get(), takes={"A": take}, at=now())

    retention.delete_old_takes(at=now() + timedelta(days=400))

    take.refresh_from_db()
    assert (take.state, take.original, take.served, take.peaks) == (Take.State.DELETED, "", "", [])
    assert CountingTake.objects.get().take == take
    assert TurnIn.objects.get().turned_in_at == row.turned_in_at
    state = phone.state(str(take.pk))
    assert (state["state"], state["sound"]) == ("deleted", None)
    assert state["says"] == "This recording was deleted because the time it is kept is over."


def test_each_band_by_its_own_policy_and_each_section_by_its_own_closing(assignment, seat):
    other_band = factories.make_band(name="Elsewhere")
    other_section = factories.make_section(band=other_band)
    other = factories.make_assignment(
        band=other_band, sections=[other_section], opens_at=now() - timedelta(days=8)
    )
    Policy.objects.create(band=seat.section.band, keep_takes_days=10)
    short = make_take(assignment, seat)
    kept = make_take(other, factories.make_seat(section=other_section))

    assert retention.delete_old_takes(at=now() + timedelta(days=20)) == 1

    assert Take.objects.get(state=Take.State.READY) == kept
    assert Take.objects.get(state=Take.State.DELETED) == short


def test_a_take_whose_section_was_taken_off_the_assignment_ends_as_well(take, assignment, section):
    other = factories.make_section(band=section.band)
    posting = assignment.postings.get()
    posting.section = other
    posting.save(update_fields=["section"])
    assert retention.delete_old_takes(at=posting.closes_at + timedelta(days=120)) == 0
    assert retention.delete_old_takes(at=posting.closes_at + timedelta(days=121)) == 1

    again = make_take(assignment, take.seat)
    posting.delete()
    assert retention.delete_old_takes(at=again.declared_at + timedelta(days=121)) == 1


def test_a_take_that_never_arrived_ends_as_well(assignment, seat):
    take = half_sent(assignment, seat)
    assert files() == 1

    retention.delete_old_takes(at=now() + timedelta(days=400))

    take.refresh_from_db()
    assert take.state == Take.State.DELETED
    assert files() == 0
    tasks.finish_uploads(at=now())
    assert not Piece.objects.exists()


def test_abandoned_bytes_are_freed_and_the_take_can_be_sent_again(phone, assignment):
    declaration = phone.declaration(SOUND)
    phone.declare(assignment, declaration)
    phone.patch(declaration["id"], 0, SOUND[:100])

    assert retention.delete_abandoned_uploads(at=now() + timedelta(days=13)) == 0
    assert retention.delete_abandoned_uploads(at=now() + timedelta(days=15)) == 1

    assert phone.head(declaration["id"]).headers["Upload-Offset"] == "0"
    assert phone.patch(declaration["id"], 0, SOUND).status_code == 204
    assert phone.state(declaration["id"])["sha256"] == declaration["sha256"]


def test_the_folder_of_a_killed_worker_is_swept(take):
    folder = Path(settings.WORK_DIR) / "abc"
    folder.mkdir()
    (folder / "served").write_bytes(b"half a copy")

    retention.delete_work_folders(at=now() + timedelta(hours=1))
    assert folder.exists()
    retention.delete_work_folders(at=now() + timedelta(hours=7))
    assert not folder.exists()


def test_there_may_be_no_work_folder_yet(settings, tmp_path):
    settings.WORK_DIR = tmp_path / "none"

    retention.delete_work_folders(at=now())


# A family's wish.


@pytest.mark.django_db(transaction=True)
def test_no_recording_outlives_its_student(take, assignment, seat):
    half_sent(assignment, seat)
    assert files() == 3

    seat.student.delete()

    assert not Take.objects.exists()
    assert files() == 0


# The worker does it by itself.


def test_the_worker_keeps_house(take, assignment, band):
    Policy.objects.create(band=band, keep_takes_days=1)
    posting = assignment.postings.get()
    posting.opens_at = now() - timedelta(days=9)
    posting.due_at = posting.closes_at = now() - timedelta(days=3)
    posting.save()
    half_sent(assignment, take.seat, at=now() - timedelta(days=20))

    for do in HOUSEKEEPING:
        do()

    take.refresh_from_db()
    assert take.state == Take.State.DELETED
    assert files() == 0


@pytest.mark.django_db(transaction=True)
def test_one_round_of_the_worker_does_what_waits(phone, assignment):
    take = phone.send(assignment, b"no sound at all" * 10)

    call_command("work", once=True, verbosity=0)

    take.refresh_from_db()
    assert take.state == Take.State.REFUSED
