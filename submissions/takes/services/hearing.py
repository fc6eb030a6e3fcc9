"""The listener hears a take, once for all lines played in it: evidence for the director, line by line.

The desk works without it. A hearing that fails says why and costs nothing; when the engine's version
changes, takes are heard again and the director's own ear (`overruled`) goes along.
"""

import json
import logging
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.db.models import QuerySet

from submissions.listening import ENGINE_VERSION
from submissions.models import Hearing, Take
from submissions.takes import engines, scores
from submissions.takes.heard_lines import HeardLine, heard_line
from submissions.takes.services import leases
from submissions.takes.services.preparation import Clock, Ended, Outcome, on_disk, work_folder

logger = logging.getLogger(__name__)

type QueueHearing = Callable[[Hearing], None]

GIVEN_UP = "The listener could not hear this take; the recording itself is fine to play and mark."
LIMITS = engines.EngineLimits(wall_seconds=240, processor_seconds=200, megabytes=2000)
LISTENING = leases.Work(
    model=Hearing,
    waiting=Hearing.State.QUEUED,
    running=Hearing.State.RUNNING,
    given_up=Hearing.State.FAILED,
    longest=timedelta(seconds=LIMITS.wall_seconds + 60),
)


@transaction.atomic
def ask_for_hearing(*, take: Take, at: datetime, queue: QueueHearing) -> Hearing | None:
    """Queue the take unless this version of the listener was asked already."""
    heard_before = take.hearings.order_by("queued_at", "pk").last()
    hearing, is_new = Hearing.objects.get_or_create(
        take=take,
        engine_version=ENGINE_VERSION,
        defaults={
            "queued_at": at,
            "lease_until": at + leases.LOOK_AGAIN,
            # The notes are the same, so what the director's ear decided still holds.
            "overruled": heard_before.overruled if heard_before else {},
        },
    )
    if not is_new:
        return None
    queue(hearing)
    return hearing


def not_heard_yet() -> QuerySet[Take]:
    """Takes that can be played and that this version of the listener was never asked about."""
    current = Hearing.objects.filter(engine_version=ENGINE_VERSION).values("take")
    return Take.objects.filter(state=Take.State.READY).exclude(pk__in=current)


def hear(*, hearing_pk: int, clock: Clock) -> Outcome:
    """Run the listener for one hearing, if it waits for that."""
    hearing = leases.claim(LISTENING, pk=hearing_pk, at=clock())
    if hearing is None:
        return Outcome(Ended.NOT_OURS)
    take = Take.objects.select_related("seat", "assignment__exercise").get(pk=hearing.take_id)
    if take.state != Take.State.READY:
        return _fail(hearing, reason="The recording is not there any more.", at=clock())
    try:
        asked = scores.score_of(take=take)
        with leases.kept(LISTENING, row=hearing, clock=clock), work_folder() as folder:
            score = folder / "score.json"
            score.write_text(json.dumps(asked.to_json()), encoding="utf-8")
            answer = engines.run(
                "submissions.listening",
                str(on_disk(take.served, folder=folder)),
                "--score",
                str(score),
                limits=LIMITS,
            )
        if failure := answer.get("error"):
            return _fail(hearing, reason=str(failure), at=clock())
        settled = leases.settle(
            LISTENING,
            row=hearing,
            state=Hearing.State.DONE,
            evidence=answer["lines"],
            reason=asked.left_out,
            finished_at=clock(),
        )
        return Outcome(Ended.READY if settled else Ended.NOT_OURS)
    except scores.NoScore as missing:
        return _fail(hearing, reason=str(missing), at=clock())
    except engines.EngineFailed as failure:
        logger.warning("Hearing %s failed: %s", hearing.pk, failure)
        again = leases.give_back(
            LISTENING,
            row=hearing,
            at=clock(),
            reason=f"{GIVEN_UP} ({failure})"[:300],
            machine=failure.is_of_the_machine,
        )
    except Exception:
        # A full disk or a storage that is away says nothing about the recording.
        logger.exception("Hearing %s waits: its files could not be read or written", hearing.pk)
        again = leases.give_back(LISTENING, row=hearing, at=clock(), reason="", machine=True)
    return Outcome(Ended.AGAIN if again else Ended.GIVEN_UP, again)


def _fail(hearing: Hearing, *, reason: str, at: datetime) -> Outcome:
    leases.settle(LISTENING, row=hearing, state=Hearing.State.FAILED, reason=reason[:300], finished_at=at)
    return Outcome(Ended.GIVEN_UP)


def hearings_of(takes: Iterable[Take]) -> dict[Any, dict[str, HeardLine]]:
    """By take and line the newest finished hearing, or the newest where none is finished; one query."""
    found: dict[Any, dict[str, HeardLine]] = {}
    lines_of = {take.pk: take.lines for take in takes}
    rows = Hearing.objects.filter(take__in=lines_of)
    for row in rows.order_by("queued_at", "pk"):
        lines = found.setdefault(row.take_id, {})
        for line in lines_of[row.take_id]:
            own, best = heard_line(row, line), lines.get(line)
            if best is None or own.is_done or not best.is_done:
                lines[line] = own
    return found
