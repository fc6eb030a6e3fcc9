"""Work is done once, given back, tried three times, and never forgotten."""

import time
from dataclasses import replace
from datetime import timedelta

import pytest

from submissions.models import Take
from submissions.takes.services import leases
from submissions.takes.services.leases import LEASE, Again, Work

pytestmark = pytest.mark.django_db
WORK = Work(
    model=Take,
    waiting=Take.State.RECEIVED,
    running=Take.State.PREPARING,
    given_up=Take.State.REFUSED,
    longest=timedelta(minutes=5),
)


@pytest.fixture
def waiting(assignment, seat, at) -> Take:
    return Take.objects.create(
        assignment=assignment,
        seat=seat,
        lines=["A"],
        state=Take.State.RECEIVED,
        declared_at=at,
        declared_bytes=1,
        declared_sha256="0" * 64,
        lease_until=at + leases.LOOK_AGAIN,
    )


def test_one_worker_gets_it_and_the_second_does_not(waiting, at):
    held = leases.claim(WORK, pk=waiting.pk, at=at)

    assert (held.state, held.tries, held.lease_until) == (Take.State.PREPARING, 1, at + LEASE)
    assert leases.claim(WORK, pk=waiting.pk, at=at) is None


def test_what_is_done_stays_done(waiting, at):
    held = leases.claim(WORK, pk=waiting.pk, at=at)

    assert leases.settle(WORK, row=held, state=Take.State.READY, seconds=3.0) is True
    assert leases.settle(WORK, row=held, state=Take.State.REFUSED) is False
    waiting.refresh_from_db()
    assert (waiting.state, waiting.seconds, waiting.lease_until) == (Take.State.READY, 3.0, None)


def test_three_tries_with_longer_and_longer_waits(waiting, at):
    waits = []
    for _ in range(2):
        held = leases.claim(WORK, pk=waiting.pk, at=at)
        again = leases.give_back(WORK, row=held, at=at, reason="crashed")
        assert again.row_pk == waiting.pk
        waits.append(again.after - at)
    held = leases.claim(WORK, pk=waiting.pk, at=at)

    assert leases.give_back(WORK, row=held, at=at, reason="crashed") is None
    assert waits == [timedelta(seconds=15), timedelta(seconds=60)]
    waiting.refresh_from_db()
    assert (waiting.state, waiting.reason, waiting.tries) == (Take.State.REFUSED, "crashed", 3)


def test_a_fault_of_the_machine_is_waited_out_for_ever(waiting, at):
    for _ in range(10):
        held = leases.claim(WORK, pk=waiting.pk, at=at)
        again = leases.give_back(WORK, row=held, at=at, reason="disk full", machine=True)
        assert again == Again(row_pk=waiting.pk, after=at + timedelta(minutes=5))
    waiting.refresh_from_db()
    assert (waiting.state, waiting.tries, waiting.reason) == (Take.State.RECEIVED, 0, "")


def test_a_worker_that_lost_its_lease_changes_nothing(waiting, at):
    lost = leases.claim(WORK, pk=waiting.pk, at=at)
    later = at + LEASE + timedelta(seconds=1)
    assert [again.row_pk for again in leases.recover(WORK, at=later, reason="lost")] == [waiting.pk]
    second = leases.claim(WORK, pk=waiting.pk, at=later)

    assert leases.settle(WORK, row=lost, state=Take.State.READY) is False
    assert leases.give_back(WORK, row=lost, at=later, reason="late") is None
    assert leases.settle(WORK, row=second, state=Take.State.READY) is True


def test_what_a_dead_worker_held_is_tried_again_at_once_for_its_lease_was_waited_out(waiting, at):
    for tries in (1, 2):
        leases.claim(WORK, pk=waiting.pk, at=at)
        at += LEASE + timedelta(seconds=1)
        assert list(leases.recover(WORK, at=at, reason="lost")) == [Again(waiting.pk, at)]
        waiting.refresh_from_db()
        assert (waiting.state, waiting.tries) == (Take.State.RECEIVED, tries)


@pytest.mark.django_db(transaction=True)
def test_a_lease_is_renewed_while_the_work_goes_on_and_not_after(waiting, at, monkeypatch):
    monkeypatch.setattr(leases, "SAID_EVERY_SECONDS", 0.02)
    held = leases.claim(WORK, pk=waiting.pk, at=at)
    later = at + timedelta(minutes=3)

    with leases.kept(WORK, row=held, clock=lambda: later):
        while Take.objects.get(pk=held.pk).lease_until != later + LEASE:
            time.sleep(0.01)
    Take.objects.filter(pk=held.pk).update(lease_until=at)
    time.sleep(0.1)

    assert Take.objects.get(pk=held.pk).lease_until == at


@pytest.mark.django_db(transaction=True)
def test_a_lease_that_somebody_else_has_is_not_renewed(waiting, at, monkeypatch):
    monkeypatch.setattr(leases, "SAID_EVERY_SECONDS", 0.02)
    lost = leases.claim(WORK, pk=waiting.pk, at=at)
    Take.objects.filter(pk=lost.pk).update(tries=2, lease_until=at)  # as after another's claim

    with leases.kept(WORK, row=lost, clock=lambda: at + timedelta(hours=1)):
        time.sleep(0.1)

    assert Take.objects.get(pk=lost.pk).lease_until == at


@pytest.mark.django_db(transaction=True)
def test_work_that_hangs_for_longer_than_any_may_take_loses_its_lease(waiting, at, monkeypatch):
    monkeypatch.setattr(leases, "SAID_EVERY_SECONDS", 0.02)
    work = replace(WORK, longest=timedelta(0))
    held = leases.claim(work, pk=waiting.pk, at=at)

    with leases.kept(work, row=held, clock=lambda: at + timedelta(hours=1)):
        time.sleep(0.1)

    assert Take.objects.get(pk=held.pk).lease_until == at + LEASE


def test_nothing_is_recovered_before_its_time(waiting, at):
    leases.claim(WORK, pk=waiting.pk, at=at)

    assert list(leases.recover(WORK, at=at + LEASE, reason="lost")) == []


def test_a_row_whose_message_was_lost_is_queued_again_once(waiting, at):
    later = at + leases.LOOK_AGAIN + timedelta(seconds=1)

    assert list(leases.recover(WORK, at=later, reason="lost")) == [Again(waiting.pk, later)]
    assert list(leases.recover(WORK, at=later, reason="lost")) == []


def test_a_worker_that_dies_three_times_over_one_row_gives_it_up(waiting, at):
    """A file that kills whoever opens it must not kill workers for ever."""
    for n in range(3):
        now = at + n * timedelta(hours=1)
        assert leases.claim(WORK, pk=waiting.pk, at=now) is not None
        found = list(leases.recover(WORK, at=now + LEASE * 2, reason="could not be opened"))
        assert len(found) == (1 if n < 2 else 0)
    waiting.refresh_from_db()
    assert (waiting.state, waiting.reason) == (Take.State.REFUSED, "could not be opened")
