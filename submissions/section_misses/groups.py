"""Whose misses are shown: the players of one instrument in one section, who read the same part."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bandroom.people.instruments import Instrument
from bandroom.people.models import Section
from submissions.turn_ins.roster import RosterRow
from submissions.turn_ins.standing import Standing

INSTRUMENT_NAMES: Mapping[str, str] = dict(Instrument.choices)


@dataclass(frozen=True, slots=True)
class PlayerGroup:
    """`expected` are all players but the excused; `is_alone`: the only instrument of its section."""

    section: Section
    instrument: str
    seats: frozenset[int]
    expected: int
    is_alone: bool

    @property
    def name(self) -> str:
        """ "Clarinets, period 2", "Saxophones, period 2: tenor sax"."""
        return str(self.section) if self.is_alone else f"{self.section}: {self.instrument_name}"

    @property
    def instrument_name(self) -> str:
        return INSTRUMENT_NAMES[self.instrument]


def groups_of(rows: Sequence[RosterRow]) -> tuple[PlayerGroup, ...]:
    """In score order."""
    by_part: dict[tuple[int, str], list[RosterRow]] = {}
    for row in rows:
        by_part.setdefault((row.seat.section_id, row.seat.instrument), []).append(row)
    sections = [section for section, _ in by_part]
    return tuple(
        PlayerGroup(
            section=found[0].seat.section,
            instrument=instrument,
            seats=frozenset(row.seat.pk for row in found),
            expected=sum(row.standing is not Standing.EXCUSED for row in found),
            is_alone=sections.count(section) == 1,
        )
        for (section, instrument), found in by_part.items()
    )


def group_shown(
    groups: Sequence[PlayerGroup], *, heard: frozenset[int], wanted: Mapping[str, str]
) -> PlayerGroup | None:
    """The one an address asks for, else the one of which most was heard, of equals the first."""
    section, instrument = wanted.get("section", ""), wanted.get("instrument", "")
    chosen = [group for group in groups if str(group.section.pk) == section] or list(groups)
    chosen = [group for group in chosen if group.instrument == instrument] or chosen
    return max(chosen, key=lambda group: len(group.seats & heard), default=None)
