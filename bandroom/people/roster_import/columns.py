"""What does each column of a class list hold? Guessed from its head, or from the cells without one."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import models

from bandroom.people.instrument_names import instrument_of
from bandroom.people.roster_import.table import FileRow, Table


class Column(models.TextChoices):
    IGNORE = "none", "Leave this out"
    FIRST_NAME = "first", "First name"
    LAST_NAME = "last", "Last name"
    FULL_NAME = "full", "Whole name"
    SECTION = "section", "Section"
    PERIOD = "period", "Class period"
    INSTRUMENT = "instrument", "Instrument"
    NAME_ID = "name_id", "Name-id of Bandroom"
    ROLE = "role", "Role (only students are taken)"


# Heads as they are after `_plain`: givenName, familyName and role are those of the open OneRoster 1.1 and
# 1.2 CSV binding (users.csv); the others are common practice, no source.
HEADS: dict[Column, frozenset[str]] = {
    Column.FIRST_NAME: frozenset(
        {
            "givenname",
            "firstname",
            "first",
            "given",
            "preferredfirstname",
            "studentfirstname",
            "forename",
            "fname",
        }
    ),
    Column.LAST_NAME: frozenset(
        {"familyname", "lastname", "last", "surname", "studentlastname", "family", "lname"}
    ),
    Column.FULL_NAME: frozenset({"name", "student", "studentname", "fullname", "wholename", "pupil"}),
    Column.SECTION: frozenset({"section", "bandsection", "ensemblesection", "group"}),
    Column.PERIOD: frozenset({"period", "classperiod", "per", "block", "hour", "pd", "classhour"}),
    Column.INSTRUMENT: frozenset({"instrument", "instruments", "inst", "instr", "plays", "bandinstrument"}),
    Column.NAME_ID: frozenset({"nameid", "bandroomid", "bandroomnameid"}),
    Column.ROLE: frozenset({"role", "roles"}),
}
# Titles and dates that a report prints above the heads.
MOST_LINES_ABOVE = 8
# Cells that name an instrument: from this share of a column on it is the instruments' column.
INSTRUMENT_SHARE = 0.6


@dataclass(frozen=True, slots=True)
class ColumnLayout:
    """How a table is to be read. `head` is the index of the row of heads in the table, None without one."""

    head: int | None
    columns: tuple[Column, ...]

    def rows(self, table: Table) -> tuple[FileRow, ...]:
        return table.rows if self.head is None else table.rows[self.head + 1 :]

    def heads(self, table: Table) -> tuple[str, ...]:
        if self.head is None:
            return tuple(f"Column {number}" for number in range(1, table.width + 1))
        return tuple(
            cell or f"Column {number}" for number, cell in enumerate(table.rows[self.head].cells, start=1)
        )


def _plain(head: str) -> str:
    return re.sub(r"[^a-z]", "", head.casefold())


def _known(cells: Sequence[str]) -> list[Column]:
    """The column that each head means; a second head of the same meaning is left out."""
    found: list[Column] = []
    for cell in cells:
        column = next((column for column, heads in HEADS.items() if _plain(cell) in heads), Column.IGNORE)
        found.append(Column.IGNORE if column in found else column)
    return found


def _meanings(cells: Sequence[str]) -> int:
    return sum(column != Column.IGNORE for column in _known(cells))


def guess_layout(table: Table) -> ColumnLayout:
    """The row of heads is the one of the first few in which most cells are known heads."""
    above = table.rows[: MOST_LINES_ABOVE + 1]
    head = max(range(len(above)), key=lambda index: (_meanings(above[index].cells), -index))
    if _meanings(above[head].cells) == 0:
        return ColumnLayout(head=None, columns=_guess_from_cells(table.rows, [Column.IGNORE] * table.width))
    columns = _known(table.rows[head].cells)
    if Column.FIRST_NAME in columns or Column.LAST_NAME in columns:
        # "Student" beside "First name" is a number or a repetition
        columns = [Column.IGNORE if column == Column.FULL_NAME else column for column in columns]
    return ColumnLayout(head=head, columns=_guess_from_cells(table.rows[head + 1 :], columns))


def _guess_from_cells(rows: Sequence[FileRow], columns: list[Column]) -> tuple[Column, ...]:
    """An instrument column shows itself; without any head the first other column of words holds the names."""
    columns = list(columns)
    if Column.INSTRUMENT not in columns:
        for index, column in enumerate(columns):
            cells = [row.cells[index] for row in rows if row.cells[index]]
            named = sum(instrument_of(cell) is not None for cell in cells)
            if column == Column.IGNORE and cells and named >= INSTRUMENT_SHARE * len(cells):
                columns[index] = Column.INSTRUMENT
                break
    names = {Column.FIRST_NAME, Column.LAST_NAME, Column.FULL_NAME}
    if not names & set(columns):
        wordy = [
            index
            for index, column in enumerate(columns)
            if column == Column.IGNORE and any(re.search(r"[^\W\d_]{2}", row.cells[index]) for row in rows)
        ]
        if wordy:
            columns[wordy[0]] = Column.FULL_NAME
    return tuple(columns)


def layout_problem(columns: Sequence[Column]) -> str | None:
    """One sentence about a choice of columns that cannot be read, None if it can."""
    chosen = [column for column in columns if column != Column.IGNORE]
    for column in chosen:
        if chosen.count(column) > 1:
            return f"Two columns are “{column.label}”: leave one of them out."
    if Column.FULL_NAME in chosen and {Column.FIRST_NAME, Column.LAST_NAME} & set(chosen):
        return "Choose either the whole name, or first and last name."
    if not {Column.FULL_NAME, Column.FIRST_NAME} & set(chosen):
        return "Say which column holds the first name, or the whole name."
    return None
