"""gunicorn, as a school runs it, for the length of a `with` block."""

import contextlib
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Mapping
from typing import IO

STARTS_WITHIN_SECONDS = 60


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextlib.contextmanager
def running_server(
    *options: str, environment: Mapping[str, str], log: int | IO[bytes] = subprocess.DEVNULL
) -> Iterator[str]:
    """Yields its address, once it answers."""
    port = free_port()
    process = subprocess.Popen(
        [sys.executable, "-m", "gunicorn", "bandroom.wsgi", *options, "--bind", f"127.0.0.1:{port}"],
        env=environment,
        stdout=log,
        stderr=log,
    )
    address = f"http://localhost:{port}"
    try:
        wait_until_it_answers(address)
        yield address
    finally:
        process.terminate()
        process.wait()


def wait_until_it_answers(address: str) -> None:
    until = time.monotonic() + STARTS_WITHIN_SECONDS
    while time.monotonic() < until:
        try:
            urllib.request.urlopen(address + "/nowhere", timeout=5).close()  # noqa: S310 our own server
        except urllib.error.HTTPError as answer:
            answer.close()
            return
        except OSError:
            time.sleep(0.1)
        else:
            return
    raise TimeoutError("The server did not start.")
