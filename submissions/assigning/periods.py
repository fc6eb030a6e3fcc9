"""Sections in the order a director's day has them: by class period."""

import re
from collections import defaultdict
from collections.abc import Iterable

from bandroom.people.models import Section


def by_period(sections: Iterable[Section]) -> list[tuple[Section, ...]]:
    """Sections of one period together, periods as they are counted (2 before 10), those without one last."""
    groups: dict[object, list[Section]] = defaultdict(list)
    for section in sections:
        groups[section.period or section.pk].append(section)
    ordered = sorted(groups.values(), key=lambda group: _period_order(group[0].period))
    return [tuple(sorted(group, key=lambda section: (section.order, section.name))) for group in ordered]


def _period_order(period: str) -> tuple[object, ...]:
    parts = tuple((0, int(p), "") if p.isdecimal() else (1, 0, p) for p in re.split(r"(\d+)", period) if p)
    return (period == "", parts)
