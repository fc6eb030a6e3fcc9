"""A student's year: every assignment that reached them, with what counted."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

from bandroom.people.models import Membership
from submissions.followup.counting import MarkedAttempt, attempts_of, counting_attempt
from submissions.models import Criterion, Level, Mark, Posting, Return
from submissions.turn_ins.own_work import OwnPosting, own_postings
from submissions.turn_ins.policy import policy_of
from submissions.turn_ins.standing import Standing, is_late, standing_of


@dataclass(frozen=True, slots=True)
class HistoryLine:
    label: str
    levels: tuple[tuple[Criterion, Level | None], ...]


@dataclass(frozen=True, slots=True)
class HistoryItem:
    own: OwnPosting
    standing: Standing
    late: bool
    attempts: int
    lines: tuple[HistoryLine, ...]
    returned: Return | None


def history_of(
    *, membership: Membership, starts: datetime, until: datetime, at: datetime
) -> tuple[HistoryItem, ...]:
    """Assignments due from `starts` up to `until`, the newest first; nine queries for any number of them."""
    band = membership.band
    policy = policy_of(band)
    postings = Posting.objects.filter(
        opens_at__lte=at, due_at__gte=starts, due_at__lt=until
    ).prefetch_related("assignment__rubric__criteria")
    own = own_postings(student=membership.user, band=band, postings=postings)
    turn_ins = [item.turn_in for item in own if item.turn_in]
    marks: dict[int, list[Mark]] = defaultdict(list)
    for mark in Mark.objects.filter(turn_in__in=turn_ins).select_related("level"):
        marks[mark.turn_in_id].append(mark)
    returns: dict[int, dict[int, Return]] = defaultdict(dict)
    for row in Return.objects.filter(turn_in__in=turn_ins, returned_at__isnull=False):
        returns[row.turn_in_id][row.attempt] = row

    items = []
    for item in own[::-1]:
        turn_in, assignment = item.turn_in, item.posting.assignment
        criteria = list(assignment.rubric.criteria.all())
        counts: MarkedAttempt | None = None
        if turn_in is not None:
            counts = counting_attempt(
                attempts_of(
                    marks=marks[turn_in.pk],
                    returned=set(returns[turn_in.pk]),
                    places=[(line, criterion.pk) for line in assignment.lines for criterion in criteria],
                ),
                redo=policy.redo,
            )
        items.append(
            HistoryItem(
                own=item,
                standing=standing_of(
                    turn_in=turn_in, posting=item.posting, policy=policy, booked=False, at=at
                ),
                late=is_late(turn_in=turn_in, posting=item.posting, policy=policy),
                attempts=turn_in.attempt if turn_in and turn_in.first_in_at else 0,
                lines=_lines(assignment.lines, criteria, counts) if counts else (),
                returned=returns[turn_in.pk].get(counts.number) if turn_in and counts else None,
            )
        )
    return tuple(items)


def _lines(labels: list[str], criteria: list[Criterion], counts: MarkedAttempt) -> tuple[HistoryLine, ...]:
    return tuple(
        HistoryLine(
            label=label,
            levels=tuple((criterion, counts.levels[label, criterion.pk]) for criterion in criteria),
        )
        for label in labels
    )
