"""What does each row say? Name, section and instrument of one student, or why the row cannot be taken."""

import re
import unicodedata
from dataclasses import dataclass

from django.db.models import CharField

from bandroom.people.instrument_names import instrument_of, suggested_instrument
from bandroom.people.instruments import Instrument
from bandroom.people.models import Section, User
from bandroom.people.name_ids import normal_name_id
from bandroom.people.roster_import.band_state import BandState, SectionKey
from bandroom.people.roster_import.columns import Column
from bandroom.people.roster_import.draft import Choices
from bandroom.people.roster_import.table import FileRow, Table


def _longest(model: type[User] | type[Section], name: str) -> int:
    field = model._meta.get_field(name)
    if not isinstance(field, CharField) or field.max_length is None:
        raise TypeError(f"{name} has no longest length.")
    return field.max_length


LONGEST = {
    Column.FIRST_NAME: _longest(User, "first_name"),
    Column.LAST_NAME: _longest(User, "last_name"),
    Column.SECTION: _longest(Section, "name"),
    Column.PERIOD: _longest(Section, "period"),
}
# What starts a formula in a spreadsheet; also what Excel leaves behind when one went wrong.
FORMULA = re.compile(r"^[=+@\-]|^#(REF|N/A|NAME|VALUE|DIV/0|NULL|NUM|SPILL)")
PERIOD_WORD = re.compile(r"^(period|per\b\.?|pd\b\.?)\s*", re.IGNORECASE)
STUDENT_ROLES = {"student", "students", "pupil", "learner"}
# The name of the section that a list without a section column makes for an instrument.
SECTION_NAMES = {
    Instrument.CLARINET: "Clarinet",
    Instrument.BARITONE_BC: "Baritone",
    Instrument.BARITONE_TC: "Baritone",
    Instrument.SNARE: "Percussion",
    Instrument.BELLS: "Percussion",
    Instrument.XYLOPHONE: "Percussion",
}


@dataclass(frozen=True, slots=True)
class ReadRow:
    """A row is taken, with section and instrument, or it has a `problem`, or is `left_out` and says why."""

    number: int
    first_name: str = ""
    last_name: str = ""
    name_id: str = ""
    section: SectionKey | None = None
    instrument: Instrument | None = None
    problem: str = ""
    left_out: str = ""
    unknown_instrument: str = ""


class _Trouble(Exception):
    """Why this one row cannot be taken."""

    def __init__(self, says: str, *, unknown_instrument: str = "") -> None:
        super().__init__(says)
        self.says = says
        self.unknown_instrument = unknown_instrument


def read_rows(*, table: Table, choices: Choices, state: BandState) -> tuple[ReadRow, ...]:
    return tuple(_read(row, choices=choices, state=state) for row in choices.layout.rows(table))


def _read(row: FileRow, *, choices: Choices, state: BandState) -> ReadRow:
    said: dict[Column, str] = {
        column: cell
        for column, cell in zip(choices.layout.columns, row.cells, strict=True)
        if column != Column.IGNORE
    }
    role = said.get(Column.ROLE, "")
    first, last = _names(said)
    if role and role.casefold() not in STUDENT_ROLES:
        return ReadRow(row.number, first, last, left_out=f"is not a student but “{role}”")
    try:
        _check(first, last, said)
        instrument = _instrument(said, choices=choices)
        section = _section(said, instrument, choices=choices, state=state)
    except _Trouble as trouble:
        return ReadRow(
            row.number, first, last, problem=trouble.says, unknown_instrument=trouble.unknown_instrument
        )
    return ReadRow(
        number=row.number,
        first_name=first,
        last_name=last,
        name_id=normal_name_id(said.get(Column.NAME_ID, "")),
        section=section,
        instrument=instrument,
    )


def _names(said: dict[Column, str]) -> tuple[str, str]:
    """First and last name. Of a whole name what is before the comma, else the last word, is the last name."""
    if Column.FULL_NAME not in said:
        return said.get(Column.FIRST_NAME, ""), said.get(Column.LAST_NAME, "")
    whole = said[Column.FULL_NAME]
    if "," in whole:
        last, _, first = whole.partition(",")
        return first.strip(), last.strip()
    first, _, last = whole.rpartition(" ")
    return (first, last) if first else (last, "")


def _check(first: str, last: str, said: dict[Column, str]) -> None:
    if not first:
        raise _Trouble("has no first name: add it" if last else "has no name: add it, or take the row out")
    values = {
        Column.FIRST_NAME: first,
        Column.LAST_NAME: last,
        Column.SECTION: said.get(Column.SECTION, ""),
        Column.PERIOD: said.get(Column.PERIOD, ""),
    }
    for column, value in values.items():
        what = column.label.lower()
        if FORMULA.match(value):
            raise _Trouble(f"the {what} “{value[:24]}” is a formula: put the plain text in its place")
        if len(value) > LONGEST[column]:
            raise _Trouble(f"the {what} is longer than {LONGEST[column]} letters: shorten it")
        if any(unicodedata.category(letter) in {"Cc", "Cs", "Co", "Cn"} for letter in value):
            raise _Trouble(f"the {what} holds signs that cannot be shown: type it anew")
    if not any(letter.isalpha() for letter in first):
        raise _Trouble(f"“{first[:24]}” is no first name: look whether the columns are chosen rightly")


def _instrument(said: dict[Column, str], *, choices: Choices) -> Instrument:
    written = said.get(Column.INSTRUMENT, "")
    if not written:
        default = choices.instrument or instrument_of(said.get(Column.SECTION, ""))
        if default is None:
            raise _Trouble("has no instrument: add it")
        return default
    found = instrument_of(written) or choices.meanings.get(written)
    if found:
        return found
    guess = suggested_instrument(written)
    asks = f"did you mean {guess.label}?" if guess else "choose above what it means"
    raise _Trouble(f"the instrument “{written[:40]}” is not known here: {asks}", unknown_instrument=written)


def _period(said: dict[Column, str]) -> str:
    """The number or name of a class period alone: "Period 2" and "per. 2" are "2"."""
    return PERIOD_WORD.sub("", said.get(Column.PERIOD, ""))


def _section(
    said: dict[Column, str], instrument: Instrument, *, choices: Choices, state: BandState
) -> SectionKey:
    """The band's own section where the name fits one, spelled as the band spells it; a new one otherwise."""
    name, period = said.get(Column.SECTION, ""), _period(said)
    if not name and choices.section is not None:
        section = state.section_of(choices.section)
        if section is None:
            raise _Trouble("its section has been taken away in the meantime: choose another one")
        return section
    name = name or SECTION_NAMES.get(instrument, instrument.label)
    if not period:
        same_name = state.sections_named(name)
        if not choices.period and len(same_name) > 1:
            periods = " and ".join(key.period or "none" for key in same_name)
            raise _Trouble(f"there is a section {name} in periods {periods}: add a column with the period")
        if not choices.period and same_name:
            return same_name[0]
        period = choices.period
    key = SectionKey(name, period)
    return state.sections.get(key.match, key)
