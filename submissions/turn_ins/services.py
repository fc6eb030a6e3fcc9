"""Every move of a turn-in: turned in, opened live, excused, returned, asked for again, opened again.

Each is one transaction that locks the row first, so two devices or two adults cannot interleave.
"""

from collections.abc import Iterable, Mapping
from datetime import datetime

from django.db import transaction
from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils.translation import gettext as _

from bandroom.people.models import Seat, User
from submissions.errors import Incomplete, Refused
from submissions.models import CountingTake, Criterion, Mark, Posting, Return, Take, TurnIn

#: What every move writes, and what a new attempt writes beside it.
MOVE_FIELDS = ("state", "state_changed_at", "state_changed_by")
ATTEMPT_FIELDS = (*MOVE_FIELDS, "attempt", "first_in_at", "turned_in_at", "route")
UNUSABLE = {Take.State.REFUSED, Take.State.DELETED}
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
    row.save(update_fields=[*ATTEMPT_FIELDS, "phone_time"])
    counting = {found.line: found for found in row.counting.filter(attempt=row.attempt)}
    for line, take in takes.items():
        before = counting.get(line)
        if before is None:
            CountingTake.objects.create(turn_in=row, attempt=row.attempt, line=line, take=take)
        elif before.take_id != take.pk:
            before.earlier = [*before.earlier, str(before.take_id)]
            before.take, before.instead_of = take, None
            before.save(update_fields=["take", "earlier", "instead_of"])
    return row


@transaction.atomic
def fall_back(*, unlike: Take | None = None) -> int:
    """Let the newest earlier take count where the one turned in after it cannot be played; how often.

    A take that nobody can hear never displaces one that can be heard, or may still turn out to be. Of work
    that was marked or excused meanwhile nothing changes. Either all that were refused, or `unlike`: its first
    bytes are like no recording, so it waits until it is prepared (`count_after_all`).
    """
    which = Q(take__state=Take.State.REFUSED) if unlike is None else Q(take=unlike)
    fallen = 0
    for row in _counting_now().filter(which).exclude(earlier=[]):
        usable = Take.objects.exclude(state__in=UNUSABLE).filter(pk__in=row.earlier)
        heard = {str(pk) for pk in usable.values_list("pk", flat=True)}
        better = next((pk for pk in reversed(row.earlier) if pk in heard), None)
        if better is None:
            continue
        kept = row.earlier[: row.earlier.index(better)]
        # one that is still being prepared may count after all
        waits = row.instead_of is not None and row.instead_of.state not in UNUSABLE
        fallen += CountingTake.objects.filter(pk=row.pk, take=row.take_id).update(
            take=better, instead_of=row.instead_of_id if waits else row.take_id, earlier=kept
        )
    return fallen


@transaction.atomic
def count_after_all(*, ready: Take) -> int:
    """A take that can be played after all counts again, as its student wished; for how many lines.

    Where a line was marked meanwhile, the take that the marks are for stays.
    """
    marked = Mark.objects.filter(
        turn_in=OuterRef("turn_in"), attempt=OuterRef("attempt"), line=OuterRef("line")
    )
    counted = 0
    for row in _counting_now().filter(~Exists(marked), instead_of=ready):
        row.earlier = [*row.earlier, str(row.take_id)]
        row.take, row.instead_of = ready, None
        row.save(update_fields=["take", "earlier", "instead_of"])
        counted += 1
    return counted


def _counting_now() -> QuerySet[CountingTake]:
    """Rows of the attempts that wait for marks, locked."""
    return (
        CountingTake.objects.select_for_update(of=("self",))
        .select_related("turn_in", "instead_of")
        .filter(turn_in__state=TurnIn.State.WAITING, attempt=F("turn_in__attempt"))
    )


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
        row.save(update_fields=ATTEMPT_FIELDS)
    return row


@transaction.atomic
def excuse(*, seat: Seat, posting: Posting, reason: str, by: User, at: datetime) -> TurnIn:
    """Set aside: never counted, never missing. What was turned in or marked before is kept."""
    row = locked_turn_in(seat=seat, posting=posting, at=at)
    _move(row=row, state=TurnIn.State.EXCUSED, by=by, at=at)
    row.excuse = reason.strip()[:200]
    row.save(update_fields=[*MOVE_FIELDS, "excuse"])
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
    row.save(update_fields=[*MOVE_FIELDS, "excuse"])
    return row


@transaction.atomic
def return_turn_in(
    *, turn_in: TurnIn, attempt: int, by: User, at: datetime, unmarked_is_meant: bool = False
) -> TurnIn:
    """Send marks and note back. With criteria unmarked it is refused once, so that none is forgotten."""
    row = waiting_turn_in(turn_in=turn_in, attempt=attempt)
    missing = unmarked(turn_in=row)
    if missing and not unmarked_is_meant:
        raise Incomplete(_missing_sentence(missing))
    return _sent(row=row, state=TurnIn.State.RETURNED, by=by, at=at)


@transaction.atomic
def ask_again(*, turn_in: TurnIn, attempt: int, by: User, at: datetime) -> TurnIn:
    """Send the note back and ask for another take; what comes then is a new attempt with its own marks."""
    row = waiting_turn_in(turn_in=turn_in, attempt=attempt)
    return _sent(row=row, state=TurnIn.State.REDO, by=by, at=at)


@transaction.atomic
def reopen(*, turn_in: TurnIn, by: User, at: datetime) -> TurnIn:
    """Take back what was returned, to change it; the student sees it again once it is returned again."""
    row = TurnIn.objects.select_for_update(of=("self",)).get(pk=turn_in.pk)
    moved = TurnIn.objects.filter(pk=row.pk, state__in=(TurnIn.State.RETURNED, TurnIn.State.REDO)).update(
        state=TurnIn.State.WAITING, state_changed_at=at, state_changed_by=by
    )
    if not moved:
        raise Refused("This is not with the student any more; open the page again to see where it stands.")
    row.returns.filter(attempt=row.attempt).update(
        returned_at=None, returned_by=None, asks_again=False, seen_at=None
    )
    row.refresh_from_db()
    return row


@transaction.atomic
def close_live(*, turn_in: TurnIn, by: User, at: datetime) -> TurnIn:
    """Undo an opening by mistake: nothing was played, nothing marked, so nothing is in."""
    row = waiting_turn_in(turn_in=turn_in, attempt=1)
    if row.route == TurnIn.Route.RECORDING or row.counting.exists():
        raise Refused("A take was turned in here, so it stays: mark it, or ask to play again.")
    if row.marks.exists():
        raise Refused("Marks were given here already, so it stays: return it, or ask to play again.")
    row.route, row.turned_in_at, row.first_in_at = "", None, None
    _move(row=row, state=TurnIn.State.EMPTY, by=by, at=at)
    row.save(update_fields=[*MOVE_FIELDS, "route", "turned_in_at", "first_in_at"])
    return row


@transaction.atomic
def decide_lateness(*, turn_in: TurnIn, on_time: bool | None, by: User, at: datetime) -> TurnIn:
    """The director's own word on lateness; None gives it back to the rule."""
    row = TurnIn.objects.select_for_update(of=("self",)).get(pk=turn_in.pk)
    if row.first_in_at is None:
        raise Refused("Nothing is in yet, so there is nothing to count as on time.")
    row.counts_as_on_time = on_time
    _move(row=row, state=TurnIn.State(row.state), by=by, at=at)
    row.save(update_fields=[*MOVE_FIELDS, "counts_as_on_time"])
    return row


def unmarked(*, turn_in: TurnIn) -> list[tuple[str, Criterion]]:
    """Line and criterion of every mark that this attempt still lacks, as they stand on the page."""
    given = set(turn_in.marks.filter(attempt=turn_in.attempt).values_list("line", "criterion_id"))
    criteria = list(turn_in.assignment.rubric.criteria.all())
    return [(line, c) for line in turn_in.assignment.lines for c in criteria if (line, c.pk) not in given]


def waiting_turn_in(*, turn_in: TurnIn, attempt: int) -> TurnIn:
    """The locked row, if this attempt still waits for marks."""
    row = (
        TurnIn.objects.select_related("assignment__rubric", "state_changed_by")
        .select_for_update(of=("self",))
        .get(pk=turn_in.pk)
    )
    if row.attempt != attempt:
        raise Refused("A newer take came in meanwhile; open the page again to hear it.")
    if row.state != TurnIn.State.WAITING:
        who = f" by {row.state_changed_by}" if row.state_changed_by else ""
        words = {
            TurnIn.State.RETURNED: f"This was returned{who}; press “Take back to change it” first.",
            TurnIn.State.REDO: f"It was sent back to play again{who}; press “Take back to change it” first.",
            TurnIn.State.EXCUSED: f"This student was excused{who}; take the excuse back first.",
            TurnIn.State.EMPTY: "Nothing is in here yet; open it as played live or on paper first.",
        }
        raise Refused(words[TurnIn.State(row.state)])
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
        if take.state in UNUSABLE:
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


def _sent(*, row: TurnIn, state: TurnIn.State, by: User, at: datetime) -> TurnIn:
    moved = TurnIn.objects.filter(pk=row.pk, state=TurnIn.State.WAITING, attempt=row.attempt).update(
        state=state, state_changed_at=at, state_changed_by=by
    )
    if not moved:
        raise Refused("Somebody else sent this back meanwhile; open the page again to see it.")
    Return.objects.update_or_create(
        turn_in=row,
        attempt=row.attempt,
        defaults={
            "asks_again": state == TurnIn.State.REDO,
            "returned_at": at,
            "returned_by": by,
            "seen_at": None,
        },
    )
    row.refresh_from_db()
    return row


def _missing_sentence(missing: Iterable[tuple[str, Criterion]]) -> str:
    named = [f"{criterion.name} in line {line}" for line, criterion in missing]
    first = named[0] if len(named) == 1 else f"{named[0]} and {len(named) - 1} more"
    verb = "has" if len(named) == 1 else "have"
    return f"{first} {verb} no mark yet. Give the marks, or return without them."
