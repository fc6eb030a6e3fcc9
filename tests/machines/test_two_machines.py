"""Two machines of one school: whatever one of them leaves, the other goes on with."""

import dataclasses
import hashlib
import os
import random
import threading
import time
import urllib.error
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from functools import partial
from http import HTTPStatus
from pathlib import Path

import pytest
from django.test import Client
from django.utils.timezone import now

from bandroom.people.models import Seat
from submissions.models import Assignment, Hearing, Piece, Take
from tests import factories
from tests.machines.conftest import Machine, wait_for
from tests.submissions.takes import sounds
from tests.submissions.takes.line import Line, connect

pytestmark = [pytest.mark.machines, pytest.mark.django_db(transaction=True)]

PHONES, TAKES_EACH = 10, 5
# Each on its way to either machine.
PIECES = 4
# Many are still on their way then, and the workers have begun.
KILLED_AFTER_RECEIPTS = 12


@pytest.fixture
def assignment(section) -> Assignment:
    return factories.make_assignment(
        band=section.band,
        sections=[section],
        opens_at=now() - timedelta(days=1),
        due_at=now() + timedelta(days=1),
        closes_at=now() + timedelta(days=2),
    )


@pytest.fixture
def played(tmp_path: Path) -> Callable[[str], bytes]:
    """Two seconds of playing; other bytes for each take, the same sound."""
    sound = sounds.webm(tmp_path / "played.webm", sounds.line(seconds=2)).read_bytes()
    return lambda number: sound + number.encode()


class Roamer:
    """A phone whose every request may reach another machine, and that never gives up."""

    def __init__(self, line: Line, machines: list[Machine], *, seed: int) -> None:
        self.lines = [dataclasses.replace(line, server=machine.address) for machine in machines]
        self.chance = random.Random(seed)

    def ask[T](self, question: Callable[[Line], T]) -> T:
        """What a machine that is up answers."""
        until = time.monotonic() + 60
        while time.monotonic() < until:
            try:
                return question(self.chance.choice(self.lines))
            except (OSError, urllib.error.URLError, AssertionError):
                time.sleep(0.1)
        raise TimeoutError("no machine answered")

    def send(self, assignment: Assignment, content: bytes) -> tuple[str, str]:
        """Announce and send one take; its id and receipt."""
        take = self.ask(lambda line: line.declare(assignment, content))
        step = -(-len(content) // PIECES)
        until = time.monotonic() + 60
        while (receipt := self.ask(lambda line: line.receipt(take))) is None:
            assert time.monotonic() < until, "no receipt"
            offset = self.ask(lambda line: line.offset(take))
            self.ask(partial(Line.patch, take=take, offset=offset, content=content[offset : offset + step]))
        return take, receipt


def connected(seat: Seat, machines: list[Machine], sign_in: Callable[..., Client], *, seed: int) -> Roamer:
    return Roamer(connect(machines[0].address, seat, sign_in(seat.student)), machines, seed=seed)


def test_a_take_that_changes_machines_between_two_pieces(machine, seat, assignment, sign_in, played):
    one, two = machine("one"), machine("two")
    for each in (one, two):
        each.serve()
    content = played("once")
    phone = connect(one.address, seat, sign_in(seat.student))
    other = dataclasses.replace(phone, server=two.address)
    half = len(content) // 2
    take = phone.declare(assignment, content)

    assert phone.patch(take, 0, content[:half])[0] == HTTPStatus.NO_CONTENT
    assert other.offset(take) == half
    assert other.patch(take, half, content[half:])[0] == HTTPStatus.NO_CONTENT

    assert phone.receipt(take) == other.receipt(take) == hashlib.sha256(content).hexdigest()


def test_storage_that_is_away_is_waited_for(machine, bucket, seat, assignment, sign_in, played):
    one = machine("one")
    one.serve()
    content = played("later")
    phone = connect(one.address, seat, sign_in(seat.student))
    half = len(content) // 2
    take = phone.declare(assignment, content)
    phone.patch(take, 0, content[:half])

    bucket.stop()
    status, headers, body = phone.patch(take, half, content[half:])
    assert (status, headers["Content-Type"]) == (HTTPStatus.SERVICE_UNAVAILABLE, "application/json")
    assert b"cannot store recordings just now" in body
    assert headers["Retry-After"] == "5"
    assert phone.offset(take) == half

    bucket.start()
    assert phone.patch(take, half, content[half:])[0] == HTTPStatus.NO_CONTENT
    assert phone.receipt(take) == hashlib.sha256(content).hexdigest()


def test_one_of_each_is_killed_while_fifty_takes_arrive(
    machine, bucket, section, assignment, sign_in, played
):
    """50 receipts, 50 equal hashes, each take prepared and heard once; nothing is left over."""
    one, two = machine("one"), machine("two")
    for each in (one, two):
        each.serve()
        each.work()
    seats = [factories.make_seat(section=section) for _ in range(PHONES)]
    phones = [connected(seat, [one, two], sign_in, seed=seed) for seed, seat in enumerate(seats)]
    receipts: dict[str, str] = {}
    enough = threading.Event()

    def evening(number: int) -> None:
        for take in range(TAKES_EACH):
            content = played(f"{number} {take}")
            pk, receipt = phones[number].send(assignment, content)
            receipts[pk] = receipt
            assert receipt == hashlib.sha256(content).hexdigest()
            if len(receipts) >= KILLED_AFTER_RECEIPTS:
                enough.set()

    with ThreadPoolExecutor(PHONES) as at_once:
        evenings = [at_once.submit(evening, number) for number in range(PHONES)]
        assert enough.wait(timeout=60)
        wait_for(lambda: Take.objects.filter(state=Take.State.PREPARING).exists())
        one.kill()
        held = in_work()
        for ended in evenings:
            ended.result(timeout=80)

    takes = {str(take.pk): take for take in Take.objects.all()}
    assert set(takes) == set(receipts)
    assert len(receipts) == PHONES * TAKES_EACH
    assert {pk: take.declared_sha256 for pk, take in takes.items()} == receipts

    one.work()  # the machine is switched on again
    wait_for(lambda: all_heard(PHONES * TAKES_EACH))

    wait_for(lambda: not Piece.objects.exists())
    takes = {take.pk: take for take in Take.objects.all()}
    assert {take.state for take in takes.values()} == {Take.State.READY}
    stored = bucket.files()
    assert set(stored) == {name for take in takes.values() for name in (take.original, take.served)}
    for take in takes.values():
        assert hashlib.sha256(stored[take.original]).hexdigest() == take.declared_sha256
    again = {row.pk for row in (*takes.values(), *Hearing.objects.all()) if row.tries > 1}
    assert again <= held
    assert len(again) <= 1  # one process worked on the machine that died
    for each in (one, two):
        assert not Path(each.environment["WORKER_TAKES"]).exists()
    assert os.listdir(two.environment["WORKER_WORK"]) == []


def in_work() -> set[object]:
    """What a worker holds under a lease."""
    takes = Take.objects.filter(state=Take.State.PREPARING).values_list("pk", flat=True)
    hearings = Hearing.objects.filter(state=Hearing.State.RUNNING).values_list("pk", flat=True)
    return {*takes, *hearings}


def all_heard(number: int) -> bool:
    return Hearing.objects.filter(state=Hearing.State.DONE).count() == number
