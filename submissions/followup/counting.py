"""Which of a student's attempts counts, and what it amounts to.

Only returned attempts count. A criterion without a level is "not yet": it adds nothing and is never a zero,
so an attempt with one has no total.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from submissions.models import Criterion, Level, Mark, Policy

type MarkPlace = tuple[str, int]  # line label, criterion pk


@dataclass(frozen=True, slots=True)
class MarkedAttempt:
    """The marks of one returned attempt, by line and criterion."""

    number: int
    levels: Mapping[MarkPlace, Level | None]

    @property
    def total(self) -> int | None:
        """The sum of all levels; None where any of them is "not yet" or was left open."""
        if not self.levels or any(level is None for level in self.levels.values()):
            return None
        return sum(level.value for level in self.levels.values() if level)

    @property
    def reached(self) -> tuple[int, int]:
        """How many criteria have a level, and their sum: what "best" goes by."""
        given = [level.value for level in self.levels.values() if level]
        return len(given), sum(given)


def attempts_of(
    *, marks: Sequence[Mark], returned: set[int], places: Sequence[MarkPlace]
) -> list[MarkedAttempt]:
    """The returned attempts of one turn-in, the first one first; places without a mark stay None."""
    found = []
    for number in sorted(returned):
        given = {(m.line, m.criterion_id): m.level for m in marks if m.attempt == number}
        found.append(MarkedAttempt(number=number, levels={place: given.get(place) for place in places}))
    return found


def counting_attempt(attempts: Sequence[MarkedAttempt], *, redo: str) -> MarkedAttempt | None:
    """The best or the last, as the school's policy has it; of two equally good ones the later."""
    if not attempts:
        return None
    if redo == Policy.Redo.LAST:
        return attempts[-1]
    return max(attempts, key=lambda attempt: (attempt.reached, attempt.number))


def highest_total(*, criteria: Sequence[Criterion], lines: Sequence[str]) -> int:
    """The sum of the top levels of every criterion over all lines; criteria come with their levels."""
    return len(lines) * sum(
        max((level.value for level in criterion.levels.all()), default=0) for criterion in criteria
    )
