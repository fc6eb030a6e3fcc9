"""An evening at once: 60 takes of half a megabyte, sent by 20 phones to a real server, and then prepared.

Each phone announces a take, sends it in two pieces and asks for the receipt, three times over. Told are the
seconds of each take from the announcement to the receipt, of each single request, and how fast one worker
then makes the takes playable. Run: python -m tests.bench.bench_upload
"""

import logging
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path

from tests.bench.scratch import scratch_database
from tests.serving import running_server

PHONES, TAKES_EACH, PIECES = 20, 3, 2
TAKE_SECONDS = 31
SERVER = ("--workers", "2", "--threads", "4")


def main() -> int:
    with scratch_database():
        return measure()


def measure() -> int:
    from django.conf import settings  # noqa: PLC0415 only after django.setup()
    from django.core.management import call_command  # noqa: PLC0415 as above
    from django.test import Client  # noqa: PLC0415 as above

    from submissions.models import Take  # noqa: PLC0415 as above
    from tests import factories  # noqa: PLC0415 as above
    from tests.submissions.takes.line import Line, connect  # noqa: PLC0415 as above
    from tests.submissions.takes.processes import environment  # noqa: PLC0415 as above

    logging.disable(logging.WARNING)
    content = half_a_megabyte()
    band = factories.make_band()
    section = factories.make_section(band=band)
    now = datetime.now(UTC)
    assignment = factories.make_assignment(
        band=band,
        sections=[section],
        opens_at=now - timedelta(days=1),
        due_at=now + timedelta(days=1),
        closes_at=now + timedelta(days=2),
    )
    requests: list[float] = []

    def evening(phone: Line) -> list[tuple[float, bool]]:
        told = []
        for number in range(TAKES_EACH):
            # Other bytes for each take, so that nothing can be answered from what is here already.
            own = content + f"{phone.student} {number}".encode()
            began = time.perf_counter()
            take = timed(requests, phone.declare, assignment, own)
            step = -(-len(own) // PIECES)
            for offset in range(0, len(own), step):
                timed(requests, phone.patch, take, offset, own[offset : offset + step])
            receipt = timed(requests, phone.receipt, take)
            told.append((time.perf_counter() - began, receipt == sha256(own).hexdigest()))
        return told

    with running_server(*SERVER, environment=environment()) as address:
        phones = []
        for _ in range(PHONES):
            seat = factories.make_seat(section=section)
            client = Client()
            client.force_login(seat.student, backend="bandroom.people.signing_in.NameBackend")
            phones.append(connect(address, seat, client))
        began = time.perf_counter()
        with ThreadPoolExecutor(PHONES) as at_once:
            takes = [take for told in at_once.map(evening, phones) for take in told]
        seconds = time.perf_counter() - began
    receipts = sum(good for _, good in takes)
    whole = sorted(length for length, _ in takes)
    print(
        f"{PHONES} phones, {len(takes)} takes of {len(content) / 1e6:.2f} MB at once "
        f"({settings.DATABASES['default']['ENGINE'].rpartition('.')[2]}, gunicorn {' '.join(SERVER)})"
    )
    print(f"  receipts           {receipts} of {len(takes)}")
    print(f"  all takes          {seconds:.2f} s, {len(takes) * len(content) / seconds / 1e6:.1f} MB/s")
    print(f"  a take to receipt  median {statistics.median(whole):.2f} s, p95 {p95(whole):.2f} s")
    print(f"  a request          median {statistics.median(requests):.3f} s, p95 {p95(requests):.3f} s")

    began = time.perf_counter()
    Take.objects.filter(state=Take.State.RECEIVED).update(
        lines=[]
    )  # the listener has a measurement of its own
    call_command("work", once=True, verbosity=0)
    seconds = time.perf_counter() - began
    ready = Take.objects.filter(state=Take.State.READY).count()
    print(f"  made playable      {ready} of {len(takes)} by one worker, {seconds / len(takes):.2f} s each")
    return 0 if receipts == ready == len(takes) else 1


def half_a_megabyte() -> bytes:
    from tests.submissions.takes import sounds  # noqa: PLC0415 only after django.setup()

    with tempfile.TemporaryDirectory() as folder:
        return sounds.webm(Path(folder) / "take", sounds.line(seconds=TAKE_SECONDS)).read_bytes()


def timed[T](into: list[float], work: Callable[..., T], *arguments: object) -> T:
    began = time.perf_counter()
    answer = work(*arguments)
    into.append(time.perf_counter() - began)
    return answer


def p95(values: list[float]) -> float:
    return statistics.quantiles(values, n=20)[-1]


if __name__ == "__main__":
    sys.exit(main())
