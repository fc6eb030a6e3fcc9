"""Who is in, late, missing, excused, by section."""

from collections.abc import Sequence
from dataclasses import dataclass

from bandroom.people.models import Section
from submissions.turn_ins.roster import RosterRow, count_by_standing
from submissions.turn_ins.standing import Standing


@dataclass(frozen=True, slots=True)
class SectionCount:
    section: Section
    rows: tuple[RosterRow, ...]
    counts: dict[Standing, int]

    @property
    def is_in(self) -> int:
        return sum(count for standing, count in self.counts.items() if standing.is_in)

    @property
    def expected(self) -> int:
        """Everybody who is not excused."""
        return len(self.rows) - self.counts[Standing.EXCUSED]


def by_section(rows: Sequence[RosterRow]) -> tuple[SectionCount, ...]:
    """Sections in score order."""
    grouped: dict[int, list[RosterRow]] = {}
    for row in rows:
        grouped.setdefault(row.seat.section_id, []).append(row)
    return tuple(
        SectionCount(section=found[0].seat.section, rows=tuple(found), counts=count_by_standing(found))
        for found in grouped.values()
    )
