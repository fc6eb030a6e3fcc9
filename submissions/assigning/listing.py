"""One assignment as a line of the list: to whom, by when, and what waits."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from bandroom.people.models import Section
from submissions.assigning.deadlines import Window
from submissions.assigning.periods import by_period
from submissions.assigning.services import window_of
from submissions.models import Assignment

# More sections of a period than this are counted, not named.
NAMED = 3


@dataclass(frozen=True, slots=True)
class SharedWindow:
    """Sections that have the same times."""

    window: Window
    whom: str


@dataclass(frozen=True, slots=True)
class Listed:
    assignment: Assignment
    windows: tuple[SharedWindow, ...]
    waiting: int
    has_opened: bool
    has_closed: bool


def list_entry(assignment: Assignment, *, waiting: int, at: datetime) -> Listed:
    """No query where postings and their sections were prefetched."""
    together: dict[Window, list[Section]] = defaultdict(list)
    for posting in assignment.postings.all():
        together[window_of(posting)].append(posting.section)
    ordered = sorted(together.items(), key=lambda shared: (shared[0].due_at, shared[0].opens_at))
    return Listed(
        assignment=assignment,
        windows=tuple(SharedWindow(window=window, whom=whom(sections)) for window, sections in ordered),
        waiting=waiting,
        has_opened=any(window.opens_at <= at for window in together),
        has_closed=all(window.closes_at <= at for window in together),
    )


def whom(sections: Sequence[Section]) -> str:
    """Sections in words: "Period 2: Flutes, Clarinets; Period 5: 8 sections"."""
    return "; ".join(_period_words(group) for group in by_period(sections))


def _period_words(group: Sequence[Section]) -> str:
    names = ", ".join(section.name for section in group) if len(group) <= NAMED else f"{len(group)} sections"
    return f"Period {group[0].period}: {names}" if group[0].period else names
