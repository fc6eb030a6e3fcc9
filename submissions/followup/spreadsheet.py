"""CSV that a spreadsheet opens as plain text, whatever a student is called.

A cell that begins with one of =, +, -, @, tab or return can be run as a formula by a spreadsheet (OWASP, "CSV
Injection"). Such a cell gets an apostrophe in front, as OWASP advises, and stays readable. The file begins
with a byte order mark, by which Excel knows that it is UTF-8.
"""

import csv
import io
from collections.abc import Iterable, Sequence

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")

type Cell = str | int | None


def to_csv(rows: Iterable[Sequence[Cell]]) -> bytes:
    """Lines end as RFC 4180 has it; None is an empty cell."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    for row in rows:
        writer.writerow([_safe(cell) for cell in row])
    return text.getvalue().encode("utf-8-sig")


def _safe(cell: Cell) -> Cell:
    if isinstance(cell, str) and cell.startswith(FORMULA_STARTS):
        return f"'{cell}"
    return cell
