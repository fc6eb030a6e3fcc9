"""The whole way over real sockets: a third-party tus client, broken lines, many phones at once.

tuspy is the tus project's own Python client (https://github.com/tus/tus-py-client).
"""

import hashlib
import io
import json
import os
import socket
import threading
import time
import uuid
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from http import HTTPStatus
from urllib.parse import urlsplit

import pytest
from django.core.files.storage import storages
from django.test import Client
from tusclient.client import TusClient
from tusclient.exceptions import TusCommunicationError, TusUploadFailed

from bandroom.people.models import Seat
from submissions.models import Take
from tests import factories
from tests.submissions.takes.conftest import CHUNK, TUS
from tests.submissions.takes.line import Line, connect

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def line(live_server, sign_in: Callable[..., Client]) -> Callable[[Seat], Line]:
    return lambda seat: connect(live_server.url, seat, sign_in(seat.student))


def stored(take: str) -> bytes:
    with storages["takes"].open(Take.objects.get(pk=take).original, "rb") as file:
        return file.read()


def test_a_third_party_client_sends_a_take(line, seat, assignment):
    phone, content = line(seat), os.urandom(700_001)
    take = phone.declare(assignment, content)
    client = TusClient(phone.server + "/uploads/", headers=phone.headers)
    name = "../" * 50 + "🎺" * 150

    uploader = client.uploader(
        file_stream=io.BytesIO(content), chunk_size=100_000, metadata={"take": take, "filename": name}
    )
    uploader.upload()

    assert uploader.url == f"{phone.server}/uploads/{take}/"
    assert phone.receipt(take) == hashlib.sha256(content).hexdigest()
    assert stored(take) == content


def test_a_third_party_client_goes_on_after_a_cut(line, seat, assignment):
    """The first program dies in the middle; another one asks how far it came and sends the rest."""
    phone, content = line(seat), os.urandom(500_000)
    take = phone.declare(assignment, content)
    client = TusClient(phone.server + "/uploads/", headers=phone.headers)
    first = client.uploader(file_stream=io.BytesIO(content), chunk_size=60_000, metadata={"take": take})
    first.upload(stop_at=180_000)

    second = client.uploader(file_stream=io.BytesIO(content), chunk_size=60_000, url=first.url)
    assert second.get_offset() == 180_000
    second.upload()

    assert phone.receipt(take) == hashlib.sha256(content).hexdigest()
    assert stored(take) == content


def test_a_third_party_client_without_the_token_or_the_right_student_sends_nothing(
    line, seat, section, assignment
):
    phone, content = line(seat), os.urandom(1000)
    take = phone.declare(assignment, content)
    without_token = {"Cookie": phone.cookies}
    classmate = line(factories.make_seat(section=section)).headers

    for headers in (without_token, classmate):
        client = TusClient(phone.server + "/uploads/", headers=headers)
        with pytest.raises((TusCommunicationError, TusUploadFailed)):
            client.uploader(file_stream=io.BytesIO(content), metadata={"take": take}).upload()
    assert phone.offset(take) == 0


def test_a_connection_cut_in_the_middle_of_a_piece_keeps_what_came(line, seat, assignment):
    phone, content = line(seat), os.urandom(400_000)
    take = phone.declare(assignment, content)
    where = urlsplit(phone.server)
    head = f"PATCH /uploads/{take}/ HTTP/1.1\r\nHost: {where.netloc}\r\n"
    for name, value in (
        phone.headers
        | TUS
        | {"Upload-Offset": "0", "Content-Type": CHUNK, "Content-Length": str(len(content))}
    ).items():
        head += f"{name}: {value}\r\n"
    with socket.create_connection((where.hostname, where.port)) as wire:
        wire.sendall(head.encode() + b"\r\n" + content[:150_000])

    until = time.monotonic() + 10
    while phone.offset(take) < 150_000 and time.monotonic() < until:
        time.sleep(0.05)
    assert phone.offset(take) == 150_000

    assert phone.patch(take, 150_000, content[150_000:])[0] == HTTPStatus.NO_CONTENT
    assert phone.receipt(take) == hashlib.sha256(content).hexdigest()
    assert stored(take) == content


def test_two_tabs_that_send_the_same_take_at_once_do_not_mix_their_bytes(line, seat, assignment):
    phone, content = line(seat), os.urandom(900_000)
    take = phone.declare(assignment, content)
    start = threading.Barrier(4)

    def tab() -> None:
        start.wait()
        offset = 0
        while offset < len(content):
            _status, headers, _body = phone.patch(take, offset, content[offset : offset + 50_000])
            offset = int(headers["Upload-Offset"])

    with ThreadPoolExecutor(4) as tabs:
        for ended in [tabs.submit(tab) for _ in range(4)]:
            ended.result(timeout=60)

    assert phone.receipt(take) == hashlib.sha256(content).hexdigest()
    assert stored(take) == content


def test_one_offset_is_written_by_one_of_many(line, seat, assignment):
    """Row-locked: of eight requests for the same place exactly one writes."""
    phone, content = line(seat), os.urandom(80_000)
    take = phone.declare(assignment, content)
    pieces = [bytes([n]) * 40_000 for n in range(8)]
    start = threading.Barrier(8)

    def send(piece: bytes) -> int:
        start.wait()
        return phone.patch(take, 0, piece)[0]

    with ThreadPoolExecutor(8) as clients:
        statuses = sorted(clients.map(send, pieces))

    assert statuses == [HTTPStatus.NO_CONTENT] + [HTTPStatus.CONFLICT] * 7
    assert phone.offset(take) == 40_000


def test_the_same_declaration_by_eight_requests_at_once_makes_one_take(line, seat, assignment):
    phone = line(seat)
    declaration = {
        "id": str(uuid.uuid4()),
        "student": phone.student,
        "lines": ["A"],
        "bytes": 10,
        "sha256": "0" * 64,
        "origin": "recorder",
    }
    body, start = json.dumps(declaration).encode(), threading.Barrier(8)

    def declare(_: int) -> int:
        start.wait()
        return phone.ask(
            "POST", f"/work/{assignment.pk}/takes/", body, **{"Content-Type": "application/json"}
        )[0]

    with ThreadPoolExecutor(8) as clients:
        statuses = sorted(clients.map(declare, range(8)))

    assert statuses == [HTTPStatus.OK] * 7 + [HTTPStatus.CREATED]
    assert Take.objects.count() == 1


def test_twenty_phones_with_three_takes_each_all_get_their_receipts(line, section, assignment):
    phones = [line(factories.make_seat(section=section)) for _ in range(20)]

    def evening(phone: Line) -> list[bool]:
        good = []
        for _ in range(3):
            content = os.urandom(60_000)
            take = phone.declare(assignment, content)
            assert phone.patch(take, 0, content[:40_000])[0] == HTTPStatus.NO_CONTENT
            assert phone.patch(take, 40_000, content[40_000:])[0] == HTTPStatus.NO_CONTENT
            good.append(phone.receipt(take) == hashlib.sha256(content).hexdigest())
        return good

    with ThreadPoolExecutor(20) as clients:
        receipts = [good for phone in clients.map(evening, phones) for good in phone]

    assert receipts == [True] * 60
    assert Take.objects.filter(state=Take.State.RECEIVED).count() == 60
