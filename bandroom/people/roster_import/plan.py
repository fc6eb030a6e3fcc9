"""What would each row of a class list do to the band as it is? Writes nothing.

The rule about children of the same name: never guess. A row belongs to a student by name-id, else by first
and last name; where two children, or two rows, could be meant, the row is a problem and says how to tell
them apart.
"""

import hashlib
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import Enum

from bandroom.people.instruments import Instrument
from bandroom.people.roster_import.band_state import BandState, KnownSeat, KnownStudent, SectionKey, name_key
from bandroom.people.roster_import.draft import Choices
from bandroom.people.roster_import.rows import ReadRow, read_rows
from bandroom.people.roster_import.table import Table


class RowOutcome(Enum):
    """What happens to a row, in the order the preview shows them."""

    PROBLEM = "problem"
    NEW = "new"
    CHANGED = "changed"
    SAME = "same"
    LEFT_OUT = "left out"


@dataclass(frozen=True, slots=True)
class PlannedRow:
    """`says` is the sentence beside the row: what will happen, or what is wrong and what to do.

    The rest is what to do: `student` is the known one, None for a new one; `closes` is the seat that ends
    and is set only where the student moves; `section` and `instrument` are where a new seat is taken, None
    for none.
    """

    number: int
    outcome: RowOutcome
    first_name: str
    last_name: str
    says: str
    student: KnownStudent | None = None
    section: SectionKey | None = None
    instrument: Instrument | None = None
    closes: KnownSeat | None = None
    renames: bool = False
    comes_back: bool = False
    unknown_instrument: str = ""

    @property
    def name(self) -> str:
        return f"{self.first_name} {self.last_name}".strip()


@dataclass(frozen=True, slots=True)
class Plan:
    rows: tuple[PlannedRow, ...]
    new_sections: tuple[SectionKey, ...]
    not_in_list: int

    def of(self, outcome: RowOutcome) -> tuple[PlannedRow, ...]:
        return tuple(row for row in self.rows if row.outcome is outcome)

    @property
    def writes(self) -> bool:
        return bool(self.of(RowOutcome.NEW) or self.of(RowOutcome.CHANGED))

    @property
    def unknown_instruments(self) -> tuple[str, ...]:
        """Each name as written, once, in the order they come."""
        return tuple(dict.fromkeys(row.unknown_instrument for row in self.rows if row.unknown_instrument))

    @property
    def fingerprint(self) -> str:
        """The same for two plans that do the same to the same students."""
        return hashlib.sha256(repr((self.rows, self.new_sections)).encode()).hexdigest()


def make_plan(*, table: Table, choices: Choices, state: BandState) -> Plan:
    read = read_rows(table=table, choices=choices, state=state)
    planned = {row.number: _planned(row, state=state) for row in read if not row.problem and not row.left_out}
    planned |= dict(_collisions(planned.values()))
    rows = tuple(planned.get(row.number) or _not_taken(row) for row in read)
    taken = [
        row.section for row in rows if row.section and row.outcome in {RowOutcome.NEW, RowOutcome.CHANGED}
    ]
    sections = {key.match: key for key in reversed(taken)}  # spelled as in the first row that names it
    named = {row.student.membership for row in rows if row.student}
    return Plan(
        rows=rows,
        new_sections=tuple(key for match, key in reversed(sections.items()) if match not in state.sections),
        not_in_list=sum(s.membership not in named and not s.has_left for s in state.students),
    )


def _not_taken(row: ReadRow) -> PlannedRow:
    return PlannedRow(
        number=row.number,
        outcome=RowOutcome.PROBLEM if row.problem else RowOutcome.LEFT_OUT,
        first_name=row.first_name,
        last_name=row.last_name,
        says=row.problem or row.left_out,
        unknown_instrument=row.unknown_instrument,
    )


def _problem(row: ReadRow, says: str) -> PlannedRow:
    return _not_taken(replace(row, problem=says))


def _planned(row: ReadRow, *, state: BandState) -> PlannedRow:
    """One row against the band, without regard to the other rows."""
    if row.section is None or row.instrument is None:
        raise ValueError(f"Row {row.number} was read without a section or an instrument.")
    found = _student_of(row, state=state)
    if isinstance(found, str):
        return _problem(row, found)
    planned = PlannedRow(
        number=row.number,
        outcome=RowOutcome.NEW,
        first_name=row.first_name,
        last_name=row.last_name,
        says=f"joins {row.section} on {row.instrument.label}",
        section=row.section,
        instrument=row.instrument,
    )
    return planned if found is None else _known(planned, found, row=row)


def _student_of(row: ReadRow, *, state: BandState) -> KnownStudent | str | None:
    """The student a row is about, None for a new one, or why that cannot be told."""
    if row.name_id:
        known = state.by_name_id.get(row.name_id)
        return known or f"nobody in this band has the name-id {row.name_id}: correct it or leave it empty"
    same_name = state.by_name.get(name_key(row.first_name, row.last_name), ())
    here = [s for s in same_name if not s.has_left]
    if len(here) > 1:
        sitting = (
            [s for s in here if any(seat.section == row.section.match for seat in s.seats)]
            if row.section
            else []
        )
        if len(sitting) == 1:
            return sitting[0]
        return "two students have this name: add a column with their name-ids"
    if here:
        return here[0]
    if len(same_name) > 1:
        return "two students of this name have left the band: take the right one back on the band’s page"
    return same_name[0] if same_name else None


def _known(planned: PlannedRow, student: KnownStudent, *, row: ReadRow) -> PlannedRow:
    section, instrument = planned.section, planned.instrument
    if section is None or instrument is None:
        raise ValueError("A planned row has a section and an instrument.")
    renames = (student.first_name, student.last_name) != (row.first_name, row.last_name) and bool(row.name_id)
    seat = next((seat for seat in student.seats if seat.section == section.match), None)
    says: list[str] = ["comes back to the band"] if student.has_left else []
    if renames:
        says.append(f"was {student.name}")
    planned = replace(planned, student=student, renames=renames, comes_back=student.has_left)
    if seat is not None and seat.instrument == instrument:
        planned = replace(planned, section=None, instrument=None)
    elif seat is not None:
        planned = replace(planned, closes=seat)
        says.append(f"changes from {seat.instrument.label} to {instrument.label}")
    elif len(student.seats) > 1:
        return _problem(row, "holds two seats: change them on the student’s page")
    elif student.seats:
        old = student.seats[0]
        planned = replace(planned, closes=old)
        moved = f"moves from {old.section_name} to {section}"
        says.append(
            moved
            if old.instrument == instrument
            else f"{moved}, {old.instrument.label} to {instrument.label}"
        )
    else:
        says.append(f"takes a seat in {section} on {instrument.label}")
    if not says:
        return replace(planned, outcome=RowOutcome.SAME, says="as it is")
    return replace(planned, outcome=RowOutcome.CHANGED, says=", ".join(says))


def _collisions(planned: Iterable[PlannedRow]) -> list[tuple[int, PlannedRow]]:
    """Rows that speak of one student twice, or of two new children of one name."""
    planned = [row for row in planned if row.outcome is not RowOutcome.PROBLEM]
    groups: defaultdict[object, list[PlannedRow]] = defaultdict(list)
    for row in planned:
        key = row.student.membership if row.student else name_key(row.first_name, row.last_name)
        groups[key].append(row)
    result = []
    for rows in groups.values():
        for row in rows if len(rows) > 1 else ():
            others = ", ".join(str(other.number) for other in rows if other is not row)
            says = (
                f"the same name stands in row {others}: if they are two children, tell them apart in the "
                "first name (Ada M.) or by name-id; if it is one child, keep one row"
            )
            result.append((row.number, replace(_stripped(row), outcome=RowOutcome.PROBLEM, says=says)))
    return result


def _stripped(row: PlannedRow) -> PlannedRow:
    return PlannedRow(
        number=row.number,
        outcome=row.outcome,
        first_name=row.first_name,
        last_name=row.last_name,
        says=row.says,
        student=row.student,
    )


def tally(plan: Plan) -> Counter[RowOutcome]:
    return Counter(row.outcome for row in plan.rows)
