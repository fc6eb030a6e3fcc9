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
from bandroom.people.models import User
from submissions.models import Assignment, CountingTake, Piece, Policy, Take, TurnIn
from submissions.takes import tasks
from submissions.takes.files import random_name
from submissions.takes.services import arrival, retention
from submissions.turn_ins import services as turn_ins
from submissions.upkeep import clock, ending
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


def deleted_by(*, at: datetime) -> int:
    """How many are deleted at `at`, by a clock that is believed."""
    clock.believe(at=at)
    return retention.delete_old_takes(at=at).deleted


def files() -> int:
    return sum(1 for path in Path(storages["takes"].location).rglob("*") if path.is_file())


def test_deleted_so_many_days_after_closing_and_not_before(take, assignment, band):
    Policy.objects.create(band=band, keep_takes_days=30)
    closes = assignment.postings.get().closes_at

    assert deleted_by(at=closes + timedelta(days=30)) == 0
    assert files() == 2
    assert deleted_by(at=closes + timedelta(days=30, seconds=1)) == 1
    assert files() == 0
    assert deleted_by(at=closes + timedelta(days=31)) == 0


def test_the_row_stays_for_the_record_without_anything_of_the_sound(take, assignment, seat, phone):
    row = turn_ins.turn_in(seat=seat, posting=assignment.postings.get(), takes={"A": take}, at=now())

    deleted_by(at=now() + timedelta(days=400))

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

    assert deleted_by(at=now() + timedelta(days=20)) == 1

    assert Take.objects.get(state=Take.State.READY) == kept
    assert Take.objects.get(state=Take.State.DELETED) == short


def test_a_take_whose_section_was_taken_off_the_assignment_ends_as_well(take, assignment, section):
    other = factories.make_section(band=section.band)
    posting = assignment.postings.get()
    posting.section = other
    posting.save(update_fields=["section"])
    assert deleted_by(at=posting.closes_at + timedelta(days=120)) == 0
    assert deleted_by(at=posting.closes_at + timedelta(days=121)) == 1

    again = make_take(assignment, take.seat)
    posting.delete()
    assert deleted_by(at=again.declared_at + timedelta(days=121)) == 1


def test_a_take_that_never_arrived_ends_as_well(assignment, seat):
    take = half_sent(assignment, seat)
    assert files() == 1

    deleted_by(at=now() + timedelta(days=400))

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


# A clock that jumps.


def weeks_of_takes(section, seat, *, counts: tuple[int, ...]) -> list[Assignment]:
    """One assignment a week, the last of which closed just now, each with so many recordings."""
    made = []
    for number, count in enumerate(counts):
        closes = now() - timedelta(weeks=len(counts) - 1 - number, minutes=1)
        assignment = factories.make_assignment(
            band=section.band,
            sections=[section],
            opens_at=closes - timedelta(days=5),
            due_at=closes - timedelta(days=1),
            closes_at=closes,
        )
        for _ in range(count):
            make_take(assignment, seat, declared_at=closes - timedelta(days=2))
        made.append(assignment)
    return made


def test_a_clock_that_jumps_forward_deletes_nothing(section, seat):
    weeks_of_takes(section, seat, counts=(3, 4, 2))
    clock.look(at=now())
    jumped = now() + timedelta(days=200)

    told = [retention.delete_old_takes(at=jumped + timedelta(hours=n)) for n in range(48)]

    assert {(each.deleted, each.waiting) for each in told} == {(0, 9)}
    assert files() == 18


def test_also_where_a_child_signs_in_with_the_wrong_date(section, seat):
    weeks_of_takes(section, seat, counts=(3,))
    clock.look(at=now())
    jumped = now() + timedelta(days=200)
    User.objects.update(last_login=jumped)

    assert retention.delete_old_takes(at=jumped).deleted == 0


def test_in_a_day_no_more_than_ever_fell_due_on_one(section, seat):
    """Even where the wrong date is believed, the oldest go first and the rest can still be saved."""
    weeks_of_takes(section, seat, counts=(3, 4, 2))
    jumped = now() + timedelta(days=200)

    deleted = [deleted_by(at=jumped + n * timedelta(hours=8)) for n in range(9)]

    assert deleted == [4, 0, 0, 4, 0, 0, 1, 0, 0]
    assert not Take.objects.exclude(state=Take.State.DELETED).exists()


def test_the_oldest_go_first(section, seat):
    first, _second = weeks_of_takes(section, seat, counts=(2, 2))

    deleted_by(at=now() + timedelta(days=200))

    assert set(Take.objects.filter(state=Take.State.DELETED)) == set(first.takes.all())


def test_a_year_in_which_the_clock_is_right_is_deleted_in_time(section, seat):
    weeks_of_takes(section, seat, counts=(3, 1, 5, 2))
    at, deleted = now() + timedelta(days=80), []
    while at < now() + timedelta(days=130):
        clock.look(at=at) if deleted else clock.believe(at=at)
        deleted.append(retention.delete_old_takes(at=at).deleted)
        at += timedelta(hours=12)

    assert [count for count in deleted if count] == [3, 1, 5, 2]


def test_a_person_confirms(section, seat, capsys):
    Policy.objects.create(band=section.band, keep_takes_days=1)
    weeks_of_takes(section, seat, counts=(3, 4, 2))
    before = now() - timedelta(days=60)
    clock.believe(at=before)
    retention.delete_old_takes(at=now())

    call_command("retention")
    told = capsys.readouterr().out
    assert f"the clock went from {before:%d %B %Y} to {now():%d %B %Y} at once" in told
    assert "7 over their time, at most 4 deleted in a day." in told
    assert Take.objects.filter(state=Take.State.DELETED).count() == 0

    call_command("retention", confirm=True)

    assert capsys.readouterr().out == "Deleted 7; 0 could not be deleted and come again.\n"
    assert retention.delete_old_takes(at=now()).doubt is None


def test_another_band_goes_at_its_own_pace(section, seat):
    weeks_of_takes(section, seat, counts=(5,))
    elsewhere = factories.make_section(band=factories.make_band(name="Elsewhere"))
    weeks_of_takes(elsewhere, factories.make_seat(section=elsewhere), counts=(1, 1))

    assert deleted_by(at=now() + timedelta(days=200)) == 6


def test_next_week_is_told_by_assignment(section, seat, band):
    _early, late, later = weeks_of_takes(section, seat, counts=(3, 4, 2))
    at = late.postings.get().closes_at + timedelta(days=120) - timedelta(days=1)
    policy = Policy(band=band)

    assert [(each.assignment, each.takes) for each in ending.next_week(band=band, policy=policy, at=at)] == [
        (late, 4)
    ]
    assert [
        (each.assignment, each.takes)
        for each in ending.next_week(band=band, policy=policy, at=at + timedelta(days=3))
    ] == [(later, 2)]
    assert ending.next_week(band=band, policy=policy, at=at + timedelta(days=30)) == []
