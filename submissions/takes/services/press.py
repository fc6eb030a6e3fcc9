"""A student presses "turn in": the stamp, the phone's own time beside it, the takes that count."""

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from bandroom.people.models import Membership
from submissions.models import Take, TurnIn
from submissions.takes.declarations import Press
from submissions.takes.refusals import Malformed
from submissions.takes.services.declarations import declare
from submissions.turn_ins import services as turn_ins
from submissions.turn_ins.own_work import OwnPosting

# A slow line takes seconds; a press that is older was made without a network.
WITHOUT_NETWORK_SECONDS = 60


@transaction.atomic
def turn_in(
    *,
    own: OwnPosting,
    membership: Membership,
    press: Press,
    waited_seconds: float,
    at: datetime,
) -> tuple[TurnIn, dict[str, Take]]:
    """Announce what is announced along, then turn in; all or nothing.

    `at` is the stamp. Where the press waited for a network, the phone's own time, put right by how far
    its clock is off, is kept beside it. A repeated request for what already counts changes nothing, so
    an answer that got lost costs no time.
    """
    for declaration in press.declarations:
        declare(own=own, membership=membership, declaration=declaration, at=at)
    found = {
        take.pk: take
        for take in Take.objects.filter(pk__in=press.takes.values(), seat__student=membership.user_id)
    }
    missing = set(press.takes.values()) - set(found)
    if missing:
        raise Malformed(_("One of these recordings was never announced; choose your takes again."))
    takes = {line: found[pk] for line, pk in press.takes.items()}
    standing = _already_in(own=own, takes=takes)
    if standing is not None:
        return standing, takes
    row = turn_ins.turn_in(
        seat=own.seat,
        posting=own.posting,
        takes=takes,
        at=at,
        phone_time=press.pressed_at if waited_seconds > WITHOUT_NETWORK_SECONDS else None,
    )
    return row, takes


def _already_in(*, own: OwnPosting, takes: dict[str, Take]) -> TurnIn | None:
    """The turn-in that waits with these takes for their lines, whatever it has for others."""
    row = own.turn_in
    if row is None or row.state != TurnIn.State.WAITING:
        return None
    counting = dict(row.counting.filter(attempt=row.attempt).values_list("line", "take"))
    return row if all(counting.get(line) == take.pk for line, take in takes.items()) else None
