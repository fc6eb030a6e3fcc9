"""Every listen by an adult is on record, once for each sitting."""

from datetime import datetime, timedelta

from django.db import transaction

from bandroom.people.models import User
from submissions.models import Listen, Take

# A player asks for a recording in several pieces and a director plays a bar five times: one listen.
ONE_SITTING = timedelta(minutes=30)


def log_listen(*, take: Take, listener: User, at: datetime) -> None:
    """Note that `listener` heard `take`, unless it stands there already for this sitting."""
    if _noted(take=take, listener=listener, at=at):
        return
    with transaction.atomic():
        Take.objects.select_for_update(of=("self",)).get(pk=take.pk)  # two requests of one player
        if not _noted(take=take, listener=listener, at=at):
            Listen.objects.create(take=take, listener=listener, at=at)


def _noted(*, take: Take, listener: User, at: datetime) -> bool:
    return Listen.objects.filter(take=take, listener=listener, at__gt=at - ONE_SITTING).exists()
