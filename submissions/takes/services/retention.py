"""What is deleted, and when: old recordings, and uploads nobody finishes."""

import logging
import shutil
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from secrets import SystemRandom

from django.conf import settings

from bandroom.people.models import Band
from submissions.models import Take
from submissions.takes.files import delete_files
from submissions.takes.refusals import TakeRefused
from submissions.takes.services import arrival
from submissions.takes.services.patience import Patience
from submissions.takes.words import DELETED
from submissions.turn_ins.policy import policy_of
from submissions.upkeep import clock, ending

logger = logging.getLogger(__name__)

# A worker's own folder is busy for minutes; one of yesterday belongs to nobody.
WORK_FOLDER_KEPT = timedelta(hours=6)


@dataclass(slots=True)
class Round:
    """What one look at old recordings did: how many were deleted, and how many wait and why."""

    deleted: int = 0
    waiting: int = 0
    doubt: clock.Doubt | None = None


def delete_old_takes(*, at: datetime, confirmed: bool = False) -> Round:
    """Delete recordings whose time is over, by each band's own policy.

    The row stays for the record (who sent something when, and its marks); the sound, its picture and
    everything measured on it go. Where the clock is doubted nothing is, and in a day never more than ever
    fell due on one; `confirmed` says that a person wants all of it now.
    """
    if confirmed:
        clock.believe(at=at)
    told = Round(doubt=clock.look(at=at))
    patience = Patience()
    for band in Band.objects.all():
        takes = ending.over(band=band, policy=policy_of(band), at=at)
        due = list(takes)
        may = 0 if told.doubt else len(due) if confirmed else ending.left_today(band=band, at=at)
        told.waiting += len(due[may:])
        now_due = due[:may]
        # One that cannot be deleted stands in nobody's way.
        SystemRandom().shuffle(now_due)
        for take in now_due:
            if patience.is_spent or not _could_delete(take, at=at):
                patience.lose()
                told.waiting += 1
            else:
                told.deleted += 1
    return told


def _could_delete(take: Take, *, at: datetime) -> bool:
    try:
        delete_take(take, at=at)
    except TakeRefused as refused:
        logger.warning("Take %s waits to be deleted: %s", take.pk, refused.__cause__ or refused)
        return False
    return True


def delete_take(take: Take, *, at: datetime) -> None:
    """Delete the sound of one take. Files first: if that fails, the row still knows them."""
    delete_files(take)
    Take.objects.filter(pk=take.pk).update(
        state=Take.State.DELETED,
        reason=DELETED,
        original="",
        served="",
        served_type="",
        served_bytes=0,
        peaks=[],
        findings=[],
        lease_until=None,
        deleted_at=at,
    )


def delete_abandoned_uploads(*, at: datetime) -> int:
    """Free the storage of bytes that stopped coming; the take can still be sent, from the start."""
    return arrival.forget_abandoned(before=at - timedelta(days=settings.UPLOAD_KEEP_DAYS))


def delete_work_folders(*, at: datetime) -> None:
    """Free this machine's disk of what a killed worker left there."""
    base = Path(settings.WORK_DIR)
    for path in base.iterdir() if base.is_dir() else ():
        if path.stat().st_mtime < (at - WORK_FOLDER_KEPT).timestamp():
            shutil.rmtree(path, ignore_errors=True)
