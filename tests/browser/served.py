"""A server of its own for a test: gunicorn on the test's database and folders, to be killed and come back."""

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from dataclasses import dataclass, field

STARTS_WITHIN_SECONDS = 60


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass(slots=True)
class Server:
    environment: dict[str, str]
    port: int = field(default_factory=free_port)
    process: "subprocess.Popen[bytes] | None" = None

    @property
    def url(self) -> str:
        return f"http://localhost:{self.port}"

    def start(self) -> None:
        bind = f"127.0.0.1:{self.port}"
        self.process = subprocess.Popen(
            [sys.executable, "-m", "gunicorn", "bandroom.wsgi", "--threads", "4", "--bind", bind],
            env=self.environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        until = time.monotonic() + STARTS_WITHIN_SECONDS
        while not self._answers():
            assert self.process.poll() is None, "the server ended at once"
            assert time.monotonic() < until, "the server did not start"
            time.sleep(0.1)

    def stop(self, how: signal.Signals = signal.SIGTERM) -> None:
        """With SIGKILL as if the power had failed; safe to call again."""
        if self.process is None:
            return
        os.killpg(self.process.pid, how)
        self.process.wait()
        self.process = None

    def _answers(self) -> bool:
        try:
            urllib.request.urlopen(self.url + "/nowhere", timeout=5).close()  # noqa: S310 our own server
        except urllib.error.HTTPError as answer:
            answer.close()
        except OSError:
            return False
        return True
