"""Reading a class list, whatever program wrote it."""

import csv
import io
import string

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bandroom.people.roster_import.table import (
    MAX_BYTES,
    MAX_COLUMNS,
    MAX_ROWS,
    RosterError,
    clean_cell,
    read_table,
)

HEAD = ("First name", "Last name", "Instrument")
ROWS = (HEAD, ("José", "Peña-Lind", "Flute"), ("Zoë", "O’Neil", "Alto"))


def written(rows: tuple[tuple[str, ...], ...], delimiter: str = ",") -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter).writerows(rows)
    return out.getvalue()


def cells(source: bytes | str) -> tuple[tuple[str, ...], ...]:
    return tuple(row.cells for row in read_table(source).rows)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_every_encoding_and_separator_gives_the_same_cells(encoding: str, delimiter: str) -> None:
    assert cells(written(ROWS, delimiter).encode(encoding)) == ROWS


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_line_ending_is_read(end: str) -> None:
    assert cells(end.join(["a,b", "c,d"]) + end) == (("a", "b"), ("c", "d"))


@pytest.mark.parametrize("line", ["sep=;", "SEP=;", '"sep=;"'])
def test_excels_first_line_names_the_separator(line: str) -> None:
    """Rows keep the numbers that the file has."""
    table = read_table(f"{line}\r\nname;says\r\nAda;a,b,c\r\n".encode())
    assert [(row.number, row.cells) for row in table.rows] == [(2, ("name", "says")), (3, ("Ada", "a,b,c"))]


def test_the_separator_is_the_one_that_cuts_the_rows_evenly() -> None:
    """Commas stand inside the names, as they do where the comma is no separator."""
    assert cells("Name;Instrument\nMarsh, Ada;Flute\nLind, Bo;Horn, F\n")[1] == ("Marsh, Ada", "Flute")
    assert cells("Name\tInstrument\nMarsh, Ada\tFlute\n")[1] == ("Marsh, Ada", "Flute")


def test_one_column_of_names_is_a_list_too() -> None:
    assert cells("Ada Marsh\nBo Lind\n") == (("Ada Marsh",), ("Bo Lind",))


def test_quoted_cells_hold_line_breaks_quotes_and_separators() -> None:
    """RFC 4180, sections 2.5 to 2.7. A line break in a name is a space."""
    assert cells('"Ada\r\nMarie","say ""hi""",c\r\nx,"a,b",z\r\n') == (
        ("Ada Marie", 'say "hi"', "c"),
        ("x", "a,b", "z"),
    )


def test_blank_rows_are_passed_over_and_keep_their_numbers() -> None:
    table = read_table("a,b\n,\n\n  , \nc,d\n")
    assert [(row.number, row.cells) for row in table.rows] == [(1, ("a", "b")), (5, ("c", "d"))]


def test_short_rows_are_filled_and_empty_columns_at_the_end_dropped() -> None:
    assert cells("a,b,,\nc\n") == (("a", "b"), ("c", ""))


@pytest.mark.parametrize(
    ("cell", "clean"),
    [
        ("  Ada ", "Ada"),
        ("Ada\u00a0Marie", "Ada Marie"),
        ("a\u200bb", "ab"),
        ("\ufeffAda", "Ada"),
        ("Jose\u0301", "José"),
    ],
)
def test_cells_are_one_clean_line(cell: str, clean: str) -> None:
    assert clean_cell(cell) == clean


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "There is nothing in this list"),
        (b"\xef\xbb\xbf \r\n ", "There is nothing in this list"),
        (b",,\r\n , \r\n", "All rows of this list are blank"),
        (b"PK\x03\x04rest", "This is an Excel or zip file"),
        (b"\xd0\xcf\x11\xe0rest", "This is an old Excel file"),
        (b"%PDF-1.7", "This is a PDF"),
        (b"\x89PNG\r\n", "This is a picture"),
        (b"a,b\x00c\n" * 3, "This file is not text"),
        (b"\x81\x8d\x8f,\x90\x9d", "in an encoding we cannot read"),
        (b"\xff\xfea", "in an encoding we cannot read"),
        (b'name,plays\nAda,"Flute\nBo,Horn\n', "A quotation mark near line"),
        (b'name,plays\n"Ada" Marsh,Flute\n', "A quotation mark near line"),
        (b"a," * MAX_COLUMNS + b"a\n", f"{MAX_COLUMNS} are the most"),
        (b"a,b\n" * (MAX_ROWS + 2), f"{MAX_ROWS} are the most at once"),
        (b"a" * (MAX_BYTES + 1), "larger than 2 MB"),
    ],
)
def test_what_cannot_be_read_is_one_sentence_that_says_what_to_do(data: bytes, says: str) -> None:
    with pytest.raises(RosterError, match=says) as refused:
        read_table(data)
    assert str(refused.value).endswith(".")


def test_the_longest_list_that_is_allowed_is_read() -> None:
    assert len(read_table("name\n" + "Ada\n" * MAX_ROWS).rows) == MAX_ROWS + 1


def test_too_much_pasted_text_is_refused() -> None:
    with pytest.raises(RosterError, match="paste only the rows"):
        read_table("a" * (MAX_BYTES + 1))


CELL = st.text(st.characters(exclude_categories=["Cs", "Cc", "Cf", "Co", "Cn"]), max_size=20)


@settings(deadline=None)
@given(
    rows=st.lists(st.lists(CELL, min_size=3, max_size=3), min_size=2, max_size=12),
    delimiter=st.sampled_from(",;\t"),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]),
)
def test_whatever_python_writes_as_csv_is_read_back_cell_by_cell(
    rows: list[list[str]], delimiter: str, encoding: str
) -> None:
    """With the separator named, for a table of commas could be cut in another way."""
    text = f"sep={delimiter}\r\n" + written(tuple(map(tuple, rows)), delimiter)
    expected = [tuple(clean_cell(cell) for cell in row) for row in rows]
    expected = [row for row in expected if any(row)]
    if not expected:
        with pytest.raises(RosterError):
            read_table(text.encode(encoding))
        return
    width = max(index + 1 for row in expected for index, cell in enumerate(row) if cell)
    assert cells(text.encode(encoding)) == tuple(row[:width] for row in expected)


@settings(deadline=None, max_examples=300)
@given(data=st.binary(max_size=300) | st.text(alphabet='",;\t\r\n=' + string.ascii_letters, max_size=200))
def test_any_bytes_give_a_table_or_one_plain_refusal(data: bytes | str) -> None:
    sentence, table = "", None
    try:
        table = read_table(data)
    except RosterError as refused:
        sentence = str(refused)
    if table is None:
        assert sentence.endswith(".")
        return
    assert table.rows
    assert len({len(row.cells) for row in table.rows}) == 1
    assert all(any(row.cells) for row in table.rows)
    assert [row.number for row in table.rows] == sorted({row.number for row in table.rows})
