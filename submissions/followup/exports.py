"""What goes to the school's records."""

from collections.abc import Iterator, Sequence
from datetime import datetime

from submissions.followup.records import Record, Records, records_of
from submissions.followup.spreadsheet import Cell, to_csv
from submissions.models import Assignment, Level
from submissions.turn_ins.standing import Standing

WHO = ("Last name", "First name", "Sign-in name", "Period", "Section", "Instrument")
NOT_YET = "not yet"


def marks_csv(*, assignment: Assignment, at: datetime) -> bytes:
    """One row a student: where it stands, every level, and a total where every level was given."""
    records = records_of(assignment=assignment, at=at)
    head = (
        *WHO,
        "State",
        "Late",
        "Turned in",
        "Attempt",
        *(records.place_name(place) for place in records.places),
        "Total",
        "Highest total",
    )
    return to_csv([head, *(_marks_row(records, record) for record in records.records)])


def term_csv(*, assignments: Sequence[Assignment], at: datetime) -> bytes:
    """One row a student, one column an assignment: a total, or the word for why there is none."""
    all_records = [records_of(assignment=assignment, at=at) for assignment in assignments]
    students: dict[int, tuple[Cell, ...]] = {}
    cells: dict[tuple[int, int], Cell] = {}
    for records in all_records:
        for record in records.records:
            student = record.row.seat.student_id
            # The seat of the latest assignment says where a student sits.
            students[student] = tuple(_who(record))
            cells[student, records.assignment.pk] = _short(record)
    head = (*WHO, *(f"{records.assignment} (of {records.highest})" for records in all_records))
    body = [
        (*who, *(cells.get((student, records.assignment.pk)) for records in all_records))
        for student, who in sorted(
            students.items(), key=lambda item: [str(cell).casefold() for cell in item[1]]
        )
    ]
    return to_csv([head, *body])


def _who(record: Record) -> Iterator[Cell]:
    seat = record.row.seat
    yield seat.student.last_name
    yield seat.student.first_name
    yield seat.student.sign_in_name
    yield seat.section.period
    yield seat.section.name
    yield seat.get_instrument_display()


def _marks_row(records: Records, record: Record) -> tuple[Cell, ...]:
    row, counts = record.row, record.counts
    band = records.assignment.band
    stamp = row.turn_in.first_in_at if row.turn_in else None
    return (
        *_who(record),
        row.standing.words,
        "late" if row.late else "",
        f"{band.local(stamp):%Y-%m-%d %H:%M}" if stamp else "",
        counts.number if counts else None,
        *(_level(counts.levels[place]) if counts else None for place in records.places),
        counts.total if counts else None,
        records.highest,
    )


def _level(level: Level | None) -> Cell:
    return NOT_YET if level is None else level.value


def _short(record: Record) -> Cell:
    if record.counts is not None and record.row.standing is not Standing.EXCUSED:
        return NOT_YET if record.counts.total is None else record.counts.total
    return record.row.standing.words
