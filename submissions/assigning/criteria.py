"""A rubric in words, before it is rows: what is judged and what each level means."""

from collections.abc import Sequence
from dataclasses import dataclass

from submissions.errors import Refused

MOST_CRITERIA = 5
FEWEST_LEVELS, MOST_LEVELS = 2, 6


@dataclass(frozen=True, slots=True)
class CriterionWords:
    """`levels` from the lowest up; the first is level 1."""

    name: str
    levels: tuple[str, ...]


def check(criteria: Sequence[CriterionWords]) -> None:
    """Refused with one sentence where a rubric cannot be used for marking."""
    if not criteria:
        raise Refused("Name at least one thing to judge, such as right notes.")
    if len(criteria) > MOST_CRITERIA:
        raise Refused(f"A short line is judged by {MOST_CRITERIA} things at most; leave some out.")
    seen: set[str] = set()
    for criterion in criteria:
        if not criterion.name:
            raise Refused("One of the things to judge has levels but no name; name it or clear its levels.")
        if criterion.name.casefold() in seen:
            raise Refused(f"“{criterion.name}” is there twice; give one of them another name.")
        seen.add(criterion.name.casefold())
        if not FEWEST_LEVELS <= len(criterion.levels) <= MOST_LEVELS:
            raise Refused(
                f"“{criterion.name}” needs {FEWEST_LEVELS} to {MOST_LEVELS} levels; "
                f"it has {len(criterion.levels)}."
            )
        if not all(criterion.levels):
            raise Refused(
                f"“{criterion.name}” has a level without words between others; fill it or close the gap."
            )
