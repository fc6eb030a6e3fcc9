"""Background work: fetches nothing and decides nothing, but calls a service and queues what it asks for.

Every task may be delivered twice or never. Twice is harmless, because the row of the work itself is
claimed; never is found by `sweep`.
"""

from datetime import datetime
from uuid import UUID

from django.tasks import task
from django.utils.timezone import now

from submissions.models import Hearing, Take
from submissions.takes import words
from submissions.takes.services import arrival, hearing, leases, preparation
from submissions.turn_ins import services as turn_ins

# A student waits for the first, nobody for the second.
PREPARE_FIRST, HEAR_LATER = 10, -10


@task(queue_name="takes", priority=PREPARE_FIRST)
def prepare_take(take_pk: str) -> str:
    """Check a received file and make what is played of it."""
    outcome = preparation.prepare(take_pk=UUID(take_pk), clock=now, queue=queue_hearing_of)
    if outcome.again is not None:
        prepare_take.using(run_after=outcome.again.after).enqueue(take_pk)
    return outcome.ended


@task(queue_name="listening", priority=HEAR_LATER)
def hear_take(hearing_pk: int) -> str:
    """Let the listener hear a take."""
    outcome = hearing.hear(hearing_pk=hearing_pk, clock=now)
    if outcome.again is not None:
        hear_take.using(run_after=outcome.again.after).enqueue(hearing_pk)
    return outcome.ended


def queue_preparing(take: Take) -> None:
    """In the transaction that makes the take RECEIVED."""
    prepare_take.enqueue(str(take.pk))


def queue_hearing_of(take: Take) -> None:
    """In the transaction that makes the take READY."""
    hearing.ask_for_hearing(take=take, at=now(), queue=queue_hearing)


def queue_hearing(row: Hearing) -> None:
    hear_take.enqueue(row.pk)


def sweep(*, at: datetime) -> int:
    """Bring back work that was lost with a worker, a message or a server; returns how much there was."""
    found = 0
    for again in leases.recover(preparation.PREPARING, at=at, reason=words.GIVEN_UP):
        prepare_take.using(run_after=again.after).enqueue(str(again.row_pk))
        found += 1
    found += turn_ins.fall_back()  # where a worker died with the last try in its hands
    for again in leases.recover(hearing.LISTENING, at=at, reason=hearing.GIVEN_UP):
        hear_take.using(run_after=again.after).enqueue(again.row_pk)
        found += 1
    return found


def finish_uploads(*, at: datetime) -> int:
    """Give takes that are complete the receipt their phones wait for, where a machine died over it."""
    return arrival.finish_left_alone(at=at, queue=queue_preparing)


def prepare_refused(*, at: datetime) -> int:
    """Ask for every take that could not be played to be prepared once more; returns how many."""
    return preparation.prepare_again(at=at, queue=queue_preparing)


def hear_stale(*, at: datetime) -> int:
    """Ask for hearings by this version of the listener wherever there are none; returns of how many lines."""
    asked = 0
    for take in hearing.not_heard_yet().iterator():
        if hearing.ask_for_hearing(take=take, at=at, queue=queue_hearing) is not None:
            asked += len(take.lines)
    return asked
