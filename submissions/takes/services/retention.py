"""What is deleted, and when: old recordings, and uploads nobody finishes."""

import logging
import shutil
from datetime import datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.db.models import F, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce

from bandroom.people.models import Band
from submissions.models import Posting, Take
from submissions.takes.files import delete_files
from submissions.takes.refusals import TakeRefused
from submissions.takes.services import arrival
from submissions.takes.services.patience import Patience
from submissions.takes.words import DELETED
from submissions.turn_ins.policy import policy_of

logger = logging.getLogger(__name__)

# A worker's own folder is busy for minutes; one of yesterday belongs to nobody.
WORK_FOLDER_KEPT = timedelta(hours=6)


def delete_old_takes(*, at: datetime) -> int:
    """Delete recordings whose time is over, by each band's own policy; returns how many.

    The row stays for the record (who sent something when, and its marks); the sound, its picture and
    everything measured on it go.
    """
    deleted = 0
    patience = Patience()
    for band in Band.objects.all():
        over = at - timedelta(days=policy_of(band).keep_takes_days)
        for take in _closed_before(over, band=band).exclude(state=Take.State.DELETED).order_by("?"):
            try:
                delete_take(take)
            except TakeRefused as refused:
                logger.warning("Take %s waits to be deleted: %s", take.pk, refused.__cause__ or refused)
                if patience.is_spent():
                    return deleted
            else:
                deleted += 1
    return deleted


def _closed_before(over: datetime, *, band: Band) -> QuerySet[Take]:
    postings = Posting.objects.filter(assignment=OuterRef("assignment"))
    own = postings.filter(section=OuterRef("seat__section"))
    closes = Coalesce(
        Subquery(own.values("closes_at")[:1]),
        # Its section was taken off the assignment: no recording stays because nobody asks for it any more.
        Subquery(postings.order_by("-closes_at").values("closes_at")[:1]),
        F("declared_at"),
    )
    return Take.objects.filter(assignment__band=band).annotate(closes=closes).filter(closes__lt=over)


def delete_take(take: Take) -> None:
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
