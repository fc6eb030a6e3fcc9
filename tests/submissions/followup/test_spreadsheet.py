"""CSV for the school's records, safe to open in a spreadsheet."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from submissions.followup.spreadsheet import FORMULA_STARTS, to_csv


def read(content: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")))


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"])
def test_a_name_that_would_run_as_a_formula_is_shown_as_text(start: str):
    """The cells that OWASP's page "CSV Injection" names."""
    assert read(to_csv([[f'{start}HYPERLINK("x")']])) == [[f'\'{start}HYPERLINK("x")']]


def test_numbers_stay_numbers_and_unknown_stays_empty():
    assert to_csv([["A", 4, None]]).decode("utf-8-sig") == "A,4,\r\n"


def test_the_file_says_it_is_utf_8():
    assert to_csv([["Sørensen"]]).startswith(b"\xef\xbb\xbf")


@given(st.lists(st.lists(st.text(st.characters(blacklist_categories=["Cs"])), min_size=1), min_size=1))
def test_whatever_the_cells_hold_no_cell_begins_a_formula_and_nothing_is_lost(rows: list[list[str]]):
    back = read(to_csv(rows))
    cells = [cell for row in rows for cell in row]
    found = [cell for row in back for cell in row] if any(rows) else []
    assert not any(cell.startswith(FORMULA_STARTS) for cell in found)
    assert [cell.removeprefix("'") for cell in found if cell] == [
        cell.removeprefix("'") for cell in cells if cell
    ]
