"""The moves of a turn-in: turned in, played again, excused, opened live.

Each is one transaction that locks the row first, so two devices or two adults cannot interleave.
"""

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from bandroom.people.models import Seat, User
from submissions.errors import Refused
from submissions.models import CountingTake, Posting, Take, TurnIn

PLAYED_BEFORE = {TurnIn.State.RETURNED, TurnIn.State.REDO}


def locked_turn_in(*, seat: Seat, posting: Posting, at: datetime) -> TurnIn:
    """The row of this seat, made empty if there was none, locked until the transaction ends."""
    TurnIn.objects.get_or_create(
        assignment_id=posting.assignment_id,
        seat=seat,
        defaults={"posting": posting, "state": TurnIn.State.EMPTY, "state_changed_at": at},
    )
    return TurnIn.objects.select_for_update(of=("self",)).get(assignment_id=posting.assignment_id, seat=seat)


@transaction.atomic
def turn_in(
    *,
    seat: Seat,
    posting: Posting,
    takes: Mapping[str, Take],
    at: datetime,
    phone_time: datetime | None = None,
) -> TurnIn:
    """Name the take that counts for each line, by line label; bytes may still be on their way.

    `at` is the server's stamp; `phone_time` what the phone said when it had no network. Before the
    director has returned anything this replaces the takes named earlier for the same lines, and those of
    other lines stay; after that it is a new attempt. Refused outside the posting's window, for a line that
    was not asked for, and for a take that is another student's or cannot be played.
    """
    _check_window(posting=posting, at=at)
    _check_takes(seat=seat, posting=posting, takes=takes)
    row = locked_turn_in(seat=seat, posting=posting, at=at)
    _start_attempt(row=row, route=TurnIn.Route.RECORDING, at=at, by=seat.student)
    row.phone_time = phone_time
    row.save()
    for line, take in takes.items():
        CountingTake.objects.update_or_create(
            turn_in=row, attempt=row.attempt, line=line, defaults={"take": take}
        )
    return row


@transaction.atomic
def open_live(
    *, seat: Seat, posting: Posting, by: User, at: datetime, route: TurnIn.Route = TurnIn.Route.CHECK_IN
) -> TurnIn:
    """A student plays live, or hands in on paper: a row to mark, without a take.

    A turn-in that already waits keeps its takes and its stamp.
    """
    row = locked_turn_in(seat=seat, posting=posting, at=at)
    if row.state != TurnIn.State.WAITING:
        _start_attempt(row=row, route=route, at=at, by=by)
        row.save()
    return row


@transaction.atomic
def excuse(*, seat: Seat, posting: Posting, reason: str, by: User, at: datetime) -> TurnIn:
    """Set aside: never counted, never missing. What was turned in or marked before is kept."""
    row = locked_turn_in(seat=seat, posting=posting, at=at)
    _move(row=row, state=TurnIn.State.EXCUSED, by=by, at=at)
    row.excuse = reason.strip()[:200]
    row.save()
    return row


@transaction.atomic
def take_back_excuse(*, turn_in: TurnIn, by: User, at: datetime) -> TurnIn:
    """Back to where it stood: waiting if something is in, marked if this attempt was returned."""
    row = TurnIn.objects.select_for_update(of=("self",)).get(pk=turn_in.pk)
    if row.state != TurnIn.State.EXCUSED:
        raise Refused(_("This student is not excused any more; open the page again to see where it stands."))
    returned = row.returns.filter(attempt=row.attempt, returned_at__isnull=False).first()
    if returned is not None:
        state = TurnIn.State.REDO if returned.asks_again else TurnIn.State.RETURNED
    else:
        state = TurnIn.State.WAITING if row.turned_in_at else TurnIn.State.EMPTY
    _move(row=row, state=state, by=by, at=at)
    row.excuse = ""
    row.save()
    return row


def _check_window(*, posting: Posting, at: datetime) -> None:
    if at < posting.opens_at:
        raise Refused(_("This assignment is not open yet; come back when it opens."))
    if at >= posting.closes_at:
        raise Refused(_("This assignment is closed; ask your director if you can still turn it in."))
    if posting.assignment.withdrawn_at is not None:
        raise Refused(_("Your director took this assignment back, so there is nothing to turn in."))


def _check_takes(*, seat: Seat, posting: Posting, takes: Mapping[str, Take]) -> None:
    if not takes:
        raise Refused(_("Choose a take for each line first, then turn in."))
    for line, take in takes.items():
        if line not in posting.assignment.lines:
            raise Refused(_("Line {line} is not asked for in this assignment.").format(line=line))
        if take.seat_id != seat.pk or take.assignment_id != posting.assignment_id or line not in take.lines:
            words = _("That take is not one of line {line} for this assignment; choose another.")
            raise Refused(words.format(line=line))
        if take.state in {Take.State.REFUSED, Take.State.DELETED}:
            words = _("The take for line {line} cannot be played; record it again.")
            raise Refused(words.format(line=line))


def _start_attempt(*, row: TurnIn, route: TurnIn.Route, at: datetime, by: User) -> None:
    if row.state in PLAYED_BEFORE:
        row.attempt += 1
    elif row.attempt == 1:
        row.first_in_at = at
    row.turned_in_at = at
    row.route = route
    _move(row=row, state=TurnIn.State.WAITING, by=by, at=at)


def _move(*, row: TurnIn, state: TurnIn.State, by: User, at: datetime) -> None:
    row.state = state
    row.state_changed_at = at
    row.state_changed_by = by
