"""Everything for a first look on one machine: database, demo school, web server and worker."""

import contextlib
import signal
import socket
import subprocess
import sys
import time
from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import BaseCommand, CommandError, call_command

from bandroom.people.models import Band
from bandroom.people.printing import INSTALL_PANGO, can_print

STOP_SECONDS = 10


class Command(BaseCommand):
    help = "Migrate, make the demo school if there is no band yet, and serve it with a worker."
    # The checks open the database, whose folder this command makes.
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--host", default="127.0.0.1", help="0.0.0.0 opens it to the network")

    def handle(self, *args: Any, port: int, host: str, **options: Any) -> None:
        if not settings.DEBUG:
            raise CommandError("serve is for trying Bandroom on a laptop; for a school see README.md.")
        _refuse_taken_port(host=host, port=port)
        Path(settings.VAR_DIR).mkdir(parents=True, exist_ok=True)
        call_command("migrate", verbosity=0)
        if not Band.objects.exists():
            self.stdout.write(
                "Making the demo school, once. Its takes are synthesised, which takes a minute."
            )
            call_command("demo", stdout=self.stdout)
        call_command("demo", "--sign-in-names", stdout=self.stdout)
        if not can_print():
            self.stdout.write(f"\nFor printed parts and cards install Pango ({INSTALL_PANGO}).")
        with contextlib.suppress(KeyboardInterrupt):
            # Whoever stops this from here on stops what it started.
            signal.signal(signal.SIGTERM, _stop)
            self.stdout.write(f"\nBandroom is at http://localhost:{port}/  (stop it with Ctrl+C)\n")
            self.stdout.flush()
            with (
                _process("work") as worker,
                _process("runserver", "--noreload", "--skip-checks", f"{host}:{port}") as web,
            ):
                _wait_for_first_end(worker, web)


def _refuse_taken_port(*, host: str, port: int) -> None:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError:
            raise CommandError(
                f"Port {port} is taken; choose another with: make run PORT={port + 1}"
            ) from None


@contextlib.contextmanager
def _process(*command: str) -> Iterator[subprocess.Popen[bytes]]:
    manage = Path(settings.BASE_DIR) / "manage.py"
    # What goes wrong comes on the standard error; the rest a person at a terminal need not read.
    process = subprocess.Popen([sys.executable, str(manage), *command], stdout=subprocess.DEVNULL)  # noqa: S603 our own command
    try:
        yield process
    finally:
        process.send_signal(signal.SIGTERM)
        try:
            process.wait(timeout=STOP_SECONDS)
        except subprocess.TimeoutExpired:
            process.kill()


def _stop(*_: object) -> None:
    raise KeyboardInterrupt


def _wait_for_first_end(*processes: subprocess.Popen[bytes]) -> None:
    while all(process.poll() is None for process in processes):
        time.sleep(0.3)
