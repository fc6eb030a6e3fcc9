"""Where a seat stands for an assignment, in the words a director uses.

Stored are only the moves somebody made. "Not yet", "missing" and "late" follow from the clock and the
deadline, so a moved deadline is right at once for everybody. None of them is ever a zero.
"""

from datetime import datetime, timedelta
from enum import StrEnum

from django.utils.translation import gettext, gettext_noop

from submissions.models import Policy, Posting, TurnIn


class Standing(StrEnum):
    WAITING = "waiting"
    WAITING_LATE = "late"
    LIVE = "live"
    REDO = "redo"
    MARKED = "marked"
    NOT_YET = "not_yet"
    MISSING = "missing"
    EXCUSED = "excused"

    @property
    def words(self) -> str:
        return WORDS[self]

    @property
    def said(self) -> str:
        """`words` in the language of the page."""
        return gettext(WORDS[self])

    @property
    def in_full(self) -> str:
        """As the list of the desk says it."""
        return IN_FULL[self]

    @property
    def sign(self) -> str:
        """Name of the drawn sign: each standing has a form of its own, not only a colour."""
        return self.value

    @property
    def is_in(self) -> bool:
        """Something was turned in, whether or not it is marked yet."""
        return self in {Standing.WAITING, Standing.WAITING_LATE, Standing.MARKED, Standing.REDO}

    @property
    def needs_marking(self) -> bool:
        return self in {Standing.WAITING, Standing.WAITING_LATE}


WORDS = {
    Standing.WAITING: gettext_noop("waiting"),
    Standing.WAITING_LATE: gettext_noop("late"),
    Standing.LIVE: gettext_noop("live"),
    Standing.REDO: gettext_noop("play again"),
    Standing.MARKED: gettext_noop("marked"),
    Standing.NOT_YET: gettext_noop("not yet"),
    Standing.MISSING: gettext_noop("missing"),
    Standing.EXCUSED: gettext_noop("excused"),
}
IN_FULL = {
    Standing.WAITING: "waiting to be marked",
    Standing.WAITING_LATE: "late, waiting to be marked",
    Standing.LIVE: "live check-in booked",
    Standing.REDO: "asked to play it again",
    Standing.MARKED: "marked",
    Standing.NOT_YET: "nothing in yet",
    Standing.MISSING: "missing, nothing in by the due time",
    Standing.EXCUSED: "excused",
}


def judged_time(*, turn_in: TurnIn, policy: Policy) -> datetime | None:
    """The instant lateness is judged by.

    The server's stamp, or the phone's own time where the school decided to trust it; the
    earlier of both, since a phone's clock can run ahead.
    """
    stamp = turn_in.first_in_at
    if stamp and turn_in.phone_time and policy.trust_phone_time:
        return min(stamp, turn_in.phone_time)
    return stamp


def is_late(*, turn_in: TurnIn | None, posting: Posting, policy: Policy) -> bool:
    """Whether what is in came after due and grace; the director's own decision wins."""
    if turn_in is None or turn_in.first_in_at is None:
        return False
    if turn_in.counts_as_on_time is not None:
        return not turn_in.counts_as_on_time
    judged = judged_time(turn_in=turn_in, policy=policy)
    return judged is not None and judged > posting.due_at + timedelta(minutes=policy.grace_minutes)


def standing_of(
    *, turn_in: TurnIn | None, posting: Posting, policy: Policy, booked: bool, at: datetime
) -> Standing:
    """`booked`: the student holds a place in a check-in slot for this assignment that is still to come."""
    if turn_in is not None:
        match turn_in.state:
            case TurnIn.State.EXCUSED:
                return Standing.EXCUSED
            case TurnIn.State.RETURNED:
                return Standing.MARKED
            case TurnIn.State.REDO:
                return Standing.LIVE if booked else Standing.REDO
            case TurnIn.State.WAITING:
                late = is_late(turn_in=turn_in, posting=posting, policy=policy)
                return Standing.WAITING_LATE if late else Standing.WAITING
    if booked:
        return Standing.LIVE
    return Standing.NOT_YET if at <= posting.due_at else Standing.MISSING
