"""An S3-compatible server for the length of a `with` block, its bucket a folder on this machine."""

import contextlib
import importlib.util
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

KEY, SECRET, REGION, BUCKET = "bandroom-key", "bandroom-secret", "us-east-1", "takes"
STARTED_WITHIN_SECONDS = 30


def present() -> bool:
    return importlib.util.find_spec("nanio") is not None


@dataclass(slots=True)
class Bucket:
    """Can be stopped and started again, as storage that goes away does."""

    folder: Path
    port: int
    process: subprocess.Popen[bytes] | None = field(default=None)

    @property
    def environment(self) -> dict[str, str]:
        """As a school sets it."""
        return {
            "S3_BUCKET": BUCKET,
            "S3_ENDPOINT": f"http://127.0.0.1:{self.port}",
            "S3_ACCESS_KEY": KEY,
            "S3_SECRET_KEY": SECRET,
            "S3_REGION": REGION,
        }

    def files(self) -> dict[str, bytes]:
        """What is stored, by name."""
        base = self.folder / BUCKET
        found = (path for path in base.rglob("*") if path.is_file())
        names = {str(path.relative_to(base)): path for path in found}
        return {name: path.read_bytes() for name, path in names.items() if not name.startswith(".")}

    def start(self) -> None:
        (self.folder / BUCKET).mkdir(exist_ok=True)
        self.process = subprocess.Popen(
            [
                *(sys.executable, "-m", "nanio", "serve", "--data-dir", str(self.folder)),
                *("--host", "127.0.0.1", "--port", str(self.port), "--region", REGION, "--no-access-log"),
            ],
            env=os.environ | {"NANIO_ACCESS_KEY": KEY, "NANIO_SECRET_KEY": SECRET},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        until = time.monotonic() + STARTED_WITHIN_SECONDS
        while time.monotonic() < until:
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port), timeout=1):
                return
            time.sleep(0.05)
        raise TimeoutError("The S3-compatible server did not start.")

    def stop(self) -> None:
        if self.process is not None:
            self.process.send_signal(signal.SIGKILL)
            self.process.wait()
            self.process = None


@contextlib.contextmanager
def bucket() -> Iterator[Bucket]:
    folder = Path(tempfile.mkdtemp(prefix="bandroom-s3-"))
    running = Bucket(folder=folder, port=free_port())
    try:
        running.start()
        yield running
    finally:
        running.stop()
        shutil.rmtree(folder, ignore_errors=True)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port
