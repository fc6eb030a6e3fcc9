"""The worker: prepares takes, listens to them, and keeps the house in order.

A supervisor starts the queue's own worker as a process, starts it again when it dies (a database that
was restarted, a long lock, a crash), and between whiles brings back work that was lost and deletes what
is over its time. Everything else of Bandroom goes on without it; work waits until it is back.
"""

import contextlib
import ctypes
import logging
import signal
import socket
import subprocess
import sys
import time
from argparse import ArgumentParser
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.core.management import BaseCommand, call_command
from django.db import close_old_connections, connections
from django.utils.timezone import now

from bandroom import queues, room
from bandroom.people import throttle
from bandroom.people.services.erasures import write_notes
from submissions.takes import tasks
from submissions.takes.services import retention
from submissions.upkeep import beats, clock

logger = logging.getLogger("bandroom.work")

TICK_SECONDS = 0.25
# With a lease's half minute, what a killed worker held goes on within a minute.
SWEEP_SECONDS = 5
# A phone whose take is complete waits for its receipt, whichever machine died over it.
RECEIPT_SECONDS = 2
BEAT_SECONDS = 15
NOTES_SECONDS = 60
HOUSEKEEPING_SECONDS = 3600
# A worker that keeps dying is started ever more slowly; one that lived for a minute counts as well.
SLOWEST_START_SECONDS = 30.0
WELL_AFTER_SECONDS = 60.0
# What runs may end before the worker is ended; its lease brings it back in any case.
STOP_SECONDS = 25
# A chore that failed comes again so soon at first, and then so seldom.
FIRST_AGAIN_SECONDS, SLOWEST_AGAIN_SECONDS = 5.0, 60.0


@dataclass(slots=True)
class Child:
    """One worker process and when it may be started next."""

    command: list[str]
    process: subprocess.Popen[bytes] | None = None
    started: float = 0.0
    not_before: float = 0.0
    deaths: int = 0

    def keep_alive(self, *, clock: float) -> None:
        if self.process is not None:
            code = self.process.poll()
            if code is None:
                return
            lived = clock - self.started
            self.deaths = 0 if code == 0 or lived > WELL_AFTER_SECONDS else self.deaths + 1
            wait = min(2.0**self.deaths - 1, SLOWEST_START_SECONDS)
            if code:
                logger.warning("A worker ended with %s after %.0f s; next in %.0f s", code, lived, wait)
            self.not_before, self.process = clock + wait, None
        if clock >= self.not_before:
            self.started = clock
            try:
                # A session of its own: Ctrl+C reaches this supervisor alone, which then stops it in order.
                self.process = subprocess.Popen(  # noqa: S603 - our own command
                    self.command, cwd=settings.BASE_DIR, start_new_session=True, preexec_fn=_die_with_parent
                )
            except (OSError, subprocess.SubprocessError):  # no memory, no more processes
                logger.exception("A worker could not be started; again in %.0f s", SLOWEST_START_SECONDS)
                self.not_before = clock + SLOWEST_START_SECONDS


@dataclass(slots=True)
class Chore:
    """Something to do every so often. Whatever stops one, a database or a storage that is away or a fault
    of our own, stops no other: it comes again by itself, soon at first and then less often."""

    do: Callable[[], object]
    every: float
    due: float = 0.0
    failures: int = 0

    def run_if_due(self, *, clock: float) -> None:
        if clock < self.due:
            return
        try:
            close_old_connections()
            self.do()
        except Exception as error:
            self.failures += 1
            wait = min(FIRST_AGAIN_SECONDS * 2.0 ** (self.failures - 1), SLOWEST_AGAIN_SECONDS)
            logger.warning(
                "%s could not be done (%s); again in %.0f s",
                getattr(self.do, "__name__", "A chore"),
                error,
                wait,
                # The whole story once; after that a line is enough.
                exc_info=self.failures == 1,
            )
            connections.close_all()
        else:
            self.failures, wait = 0, self.every
        self.due = clock + wait


class Command(BaseCommand):
    help = "Run the worker: takes are prepared and heard, old recordings deleted. Stop it with SIGTERM."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--workers", type=int, default=1, help="processes that work side by side")
        parser.add_argument("--interval", type=float, default=0.5, help="seconds between looks at the queue")
        parser.add_argument(
            "--sweep-seconds", type=float, default=SWEEP_SECONDS, help="seconds between looks for lost work"
        )
        parser.add_argument("--once", action="store_true", help="do what is waiting now, then stop")

    def handle(
        self,
        *args: Any,
        workers: int,
        interval: float,
        sweep_seconds: float,
        once: bool,
        **options: Any,
    ) -> None:
        if once:
            finish_uploads()
            sweep()
            queues.chosen().run_waiting()
            return
        command = queues.chosen().worker_command(interval=interval)
        Supervisor(
            children=[Child(command) for _ in range(max(1, workers))],
            chores=[
                Chore(say_that_it_lives, BEAT_SECONDS),
                Chore(keep_room, BEAT_SECONDS),
                Chore(finish_uploads, min(RECEIPT_SECONDS, sweep_seconds)),
                Chore(sweep, sweep_seconds),
                Chore(write_erasure_notes, NOTES_SECONDS),
                *(Chore(do, HOUSEKEEPING_SECONDS) for do in HOUSEKEEPING),
            ],
        ).run()


@dataclass(slots=True)
class Supervisor:
    children: list[Child]
    chores: list[Chore]
    stopping: bool = False

    def run(self) -> None:
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self._stop)
        logger.info("Working with %d process(es)", len(self.children))
        while not self.stopping:
            for child in self.children:
                child.keep_alive(clock=time.monotonic())
            for chore in self.chores:
                chore.run_if_due(clock=time.monotonic())
            time.sleep(TICK_SECONDS)
        self._end_children()
        logger.info("Stopped")

    def _stop(self, *_: object) -> None:
        self.stopping = True

    def _end_children(self) -> None:
        running = [child.process for child in self.children if child.process is not None]
        for process in running:
            process.terminate()
        until = time.monotonic() + STOP_SECONDS
        for process in running:
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(timeout=max(0.0, until - time.monotonic()))
            if process.poll() is None:
                process.kill()
                process.wait()


def sweep() -> None:
    found = queues.chosen().bring_back() + tasks.sweep(at=now())
    if found:
        logger.info("Brought back %d piece(s) of lost work", found)


def finish_uploads() -> None:
    finished = tasks.finish_uploads(at=now())
    if finished:
        logger.warning("Gave %d take(s) the receipt that a machine died over", finished)


def say_that_it_lives() -> None:
    """Also looks at the clock, so often that a jump is told from days going by."""
    at = now()
    clock.look(at=at)
    beats.beat(name=socket.gethostname()[:80], at=at)


def keep_room() -> None:
    room.make_room()
    room.set_aside()


def write_erasure_notes() -> None:
    write_notes(at=now())


def delete_old_takes() -> None:
    told = retention.delete_old_takes(at=now())
    if told.doubt:
        logger.warning(
            "The clock went from %s to %s at once: no recording is deleted until %s, or until "
            "manage.py retention --confirm",
            *(
                f"{moment:%Y-%m-%d}"
                for moment in (told.doubt.before, told.doubt.after, told.doubt.believed_on)
            ),
        )
    if told.deleted or told.waiting:
        logger.info("Deleted %d old recording(s); %d wait", told.deleted, told.waiting)


def delete_abandoned_uploads() -> None:
    freed = retention.delete_abandoned_uploads(at=now())
    if freed:
        logger.info("Deleted %d abandoned upload(s)", freed)


def delete_work_folders() -> None:
    retention.delete_work_folders(at=now())


def forget_old_messages() -> None:
    queues.chosen().forget_old(at=now())


def forget_old_sessions() -> None:
    call_command("clearsessions")


# What is over its time; each a chore of its own, so that none waits for another.
def forget_old_tries() -> None:
    throttle.forget_old(at=now())


HOUSEKEEPING: tuple[Callable[[], None], ...] = (
    delete_old_takes,
    delete_abandoned_uploads,
    delete_work_folders,
    forget_old_messages,
    forget_old_sessions,
    forget_old_tries,
)


def _die_with_parent() -> None:
    """A worker ends when its supervisor was killed (Linux); elsewhere it goes on, which is harmless."""
    if sys.platform == "linux":
        set_parent_death_signal = 1  # PR_SET_PDEATHSIG, prctl(2)
        ctypes.CDLL(None).prctl(set_parent_death_signal, signal.SIGTERM)
