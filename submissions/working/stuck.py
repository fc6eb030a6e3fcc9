"""Where a student is stuck, and at which bars that can be said."""

from exercises.music.score import line_from_json
from submissions.models import Stuck
from submissions.own_work import OwnPosting
from submissions.working.queries import asked_lines


def stuck_of(own: OwnPosting) -> list[Stuck]:
    """Bars that wait for help; one query."""
    rows = Stuck.objects.filter(assignment=own.posting.assignment_id, seat=own.seat, helped_at__isnull=True)
    return list(rows)


def bars_to_be_stuck_at(own: OwnPosting) -> tuple[tuple[str, int], ...]:
    """Every bar of every line that is asked for, by the number printed over it."""
    return tuple(
        (line.label, number)
        for line in asked_lines(own.posting.assignment)
        for number, _ in line_from_json(line.score).numbered_bars()
    )
