"""A received file becomes a take that can be played: checked, rewrapped, drawn, in a process of its own."""

import logging
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from pathlib import Path
from typing import Any
from uuid import UUID

from django.conf import settings
from django.core.files import File
from django.core.files.storage import storages
from django.db import transaction

from submissions.models import Take
from submissions.takes import engines, files
from submissions.takes.services import leases
from submissions.takes.services.arrival import Queue
from submissions.takes.services.leases import Again
from submissions.takes.words import GIVEN_UP
from submissions.turn_ins import services as turn_ins

logger = logging.getLogger(__name__)

LIMITS = engines.EngineLimits(wall_seconds=150, processor_seconds=120, megabytes=1500)
PREPARING = leases.Work(
    model=Take,
    waiting=Take.State.RECEIVED,
    running=Take.State.PREPARING,
    given_up=Take.State.REFUSED,
    # Longer than the engine may run, by the time it takes to fetch and store the files.
    longest=timedelta(seconds=LIMITS.wall_seconds + 150),
)

type Clock = Callable[[], datetime]


class Ended(StrEnum):
    READY = "ready"
    REFUSED = "refused"
    AGAIN = "will be tried again"
    GIVEN_UP = "given up"
    NOT_OURS = "somebody else has it"


@dataclass(frozen=True, slots=True)
class Outcome:
    ended: Ended
    again: Again | None = None


def prepare(*, take_pk: UUID, clock: Clock, queue: Queue) -> Outcome:
    """Prepare one take, if it waits for that. `queue` is called in the transaction that makes it READY."""
    take = leases.claim(PREPARING, pk=take_pk, at=clock())
    if take is None:
        return Outcome(Ended.NOT_OURS)
    try:
        with leases.kept(PREPARING, row=take, clock=clock), work_folder() as folder:
            answer = engines.run(
                "submissions.preparing",
                str(on_disk(take.original, folder=folder)),
                str(folder / "served"),
                "--longest-seconds",
                str(settings.TAKE_MAX_SECONDS),
                limits=LIMITS,
            )
            if "refusal" in answer:
                done = _refuse(take=take, reason=answer["sentence"])
                return Outcome(Ended.REFUSED if done else Ended.NOT_OURS)
            done = _store(take=take, served=folder / "served", answer=answer, queue=queue)
            return Outcome(Ended.READY if done else Ended.NOT_OURS)
    except engines.EngineFailed as failure:
        logger.warning("Take %s could not be prepared: %s", take.pk, failure)
        again = leases.give_back(
            PREPARING, row=take, at=clock(), reason=GIVEN_UP, machine=failure.is_of_the_machine
        )
    except Exception:
        # A full disk or a storage that is away says nothing about the recording.
        logger.exception("Take %s waits: its files could not be read or written", take.pk)
        again = leases.give_back(PREPARING, row=take, at=clock(), reason=GIVEN_UP, machine=True)
    if again is None:
        turn_ins.fall_back()
    return Outcome(Ended.AGAIN if again else Ended.GIVEN_UP, again)


@transaction.atomic
def _refuse(*, take: Take, reason: str) -> bool:
    """It cannot be used; what counted before counts again. What was received stays, for the band's staff."""
    done = leases.settle(PREPARING, row=take, state=Take.State.REFUSED, reason=reason)
    if done:
        turn_ins.fall_back()
    return done


def prepare_again(*, at: datetime, queue: Queue) -> int:
    """Try every refused take once more, after an upgrade that may read what the last version could not.

    Returns how many; `queue` is called for each in the transaction that lets it wait again.
    """
    asked = 0
    for take in Take.objects.filter(state=Take.State.REFUSED).exclude(original="").iterator():
        with transaction.atomic():
            moved = Take.objects.filter(pk=take.pk, state=Take.State.REFUSED).update(
                state=Take.State.RECEIVED, reason="", tries=0, lease_until=at + leases.LOOK_AGAIN
            )
            if moved:
                queue(take)
        asked += moved
    return asked


def _store(*, take: Take, served: Path, answer: dict[str, Any], queue: Queue) -> bool:
    storage = storages["takes"]
    if take.served:  # an earlier try ended half-way
        storage.delete(take.served)
    name = files.random_name()
    # On record before it is stored: no file without a row that knows it.
    if not Take.objects.filter(pk=take.pk, state=Take.State.PREPARING, tries=take.tries).update(served=name):
        return False
    with served.open("rb") as file:
        storage.save(name, File(file))
    marker, lead = answer["marker_seconds"], take.lead_seconds
    with transaction.atomic():
        stored = leases.settle(
            PREPARING,
            row=take,
            state=Take.State.READY,
            served_type=answer["media_type"],
            served_bytes=served.stat().st_size,
            seconds=answer["seconds"],
            peaks=answer["peaks"],
            findings=answer["findings"],
            beat_one_seconds=None if marker is None or lead is None else round(marker + lead, 5),
        )
        if stored:
            take.refresh_from_db()
            turn_ins.count_after_all(ready=take)
            queue(take)
    if not stored:
        storage.delete(name)
    return stored


def on_disk(name: str, *, folder: Path) -> Path:
    """A stored file as a local path: itself where it lies on this disk, else a copy in `folder`."""
    storage = storages["takes"]
    try:
        return Path(storage.path(name))
    except NotImplementedError:  # object storage
        copy = folder / "fetched"
        with copy.open("wb") as out:
            out.writelines(files.read(name))
        return copy


@contextmanager
def work_folder() -> Iterator[Path]:
    """A folder that is gone afterwards; one left by a killed worker is swept by its age."""
    files.check_room()
    base = Path(settings.WORK_DIR)
    base.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=base) as folder:
        yield Path(folder)
