"""Which cells are in the file a director gives us, whatever program wrote it?

Encodings: UTF-8 with or without a byte order mark, UTF-16, and Windows-1252, which Excel on Windows writes
when asked for plain "CSV". Separators: comma, semicolon (Excel where the comma is the decimal sign) and tab
(cells pasted from any spreadsheet); a first line `sep=;` names it. Quoted cells may hold separators, quotes
and line breaks (RFC 4180).
"""

import csv
import io
import re
import unicodedata
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

MAX_BYTES = 2 * 1024 * 1024
MAX_ROWS = 1000
MAX_COLUMNS = 60
DELIMITERS = ",;\t"
# Enough rows to tell separators apart.
SAMPLE_ROWS = 50
# Text in UTF-16 without its mark: at least this share of the bytes are zero.
ZERO_SHARE = 0.2
SEP_LINE = re.compile(r'\A"?sep=(.)"?\r?(\n|\Z)', re.IGNORECASE)
OTHER_FILES = (
    (b"PK\x03\x04", "This is an Excel or zip file"),
    (b"\xd0\xcf\x11\xe0", "This is an old Excel file"),
    (b"%PDF", "This is a PDF"),
    (b"\x89PNG", "This is a picture"),
    (b"\xff\xd8\xff", "This is a picture"),
)
SAVE_AS = "In the spreadsheet choose Save as and the type “CSV UTF-8”, then give us that file."


class RosterError(ValueError):
    """The list cannot be read at all; the message is one sentence that says what to do."""


@dataclass(frozen=True, slots=True)
class FileRow:
    """`number` counts from 1 as the spreadsheet does, blank rows included."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """Rows that hold anything. All have as many cells as the longest."""

    rows: tuple[FileRow, ...]

    @property
    def width(self) -> int:
        return len(self.rows[0].cells)


def decoded(data: bytes) -> str:
    """The text of a file, its byte order mark taken off. RosterError if it is no text."""
    for start, what in OTHER_FILES:
        if data.startswith(start):
            raise RosterError(f"{what}, not a CSV file. {SAVE_AS}")
    if len(data) > MAX_BYTES:
        raise RosterError(
            f"This file is larger than {MAX_BYTES // 1024**2} MB: give us only the class list, saved as CSV."
        )
    text = _text_of(data)
    if "\0" in text:
        raise RosterError(f"This file is not text. {SAVE_AS}")
    return text


def _text_of(data: bytes) -> str:
    for encoding in _encodings(data):
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise RosterError(f"This file is in an encoding we cannot read. {SAVE_AS}")


def _encodings(data: bytes) -> Iterator[str]:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        yield "utf-16"
        return
    zeros = data.count(0)
    if zeros and zeros >= len(data) * ZERO_SHARE and len(data) % 2 == 0:
        even = data[::2].count(0)
        yield "utf-16-be" if even > zeros - even else "utf-16-le"
        return
    yield "utf-8-sig"
    yield "cp1252"


def clean_cell(cell: str) -> str:
    """One line without stray spaces: line breaks, tabs and no-break spaces inside a cell become one space."""
    return " ".join(unicodedata.normalize("NFC", cell).replace("\ufeff", "").replace("\u200b", "").split())


def read_table(source: bytes | str) -> Table:
    """The cells of a file (bytes) or of pasted text. RosterError says what is wrong with the whole."""
    if isinstance(source, str) and len(source) > MAX_BYTES:
        raise RosterError("This is far more than a class list: paste only the rows of your students.")
    text = decoded(source) if isinstance(source, bytes) else source.lstrip("\ufeff").replace("\0", "")
    if not text.strip():
        raise RosterError(
            "There is nothing in this list: choose the file again, or paste the rows with their heads."
        )
    if named := SEP_LINE.match(text):
        records, first = _records(text[named.end() :], named.group(1)), 2
    else:
        records, first = _records(text, _delimiter(text)), 1
    rows = [
        FileRow(number=number, cells=cells)
        for number, record in enumerate(records, start=first)
        if any(cells := tuple(clean_cell(cell) for cell in record))
    ]
    if not rows:
        raise RosterError("All rows of this list are blank: choose the file again, or paste the rows.")
    width = max(_filled_width(row.cells) for row in rows)
    if width > MAX_COLUMNS:
        raise RosterError(
            f"This list has {width} columns; {MAX_COLUMNS} are the most: keep names, section and instrument."
        )
    if len(rows) > MAX_ROWS + 1:  # one of them may be the head
        raise RosterError(
            f"This list has {len(rows)} rows; {MAX_ROWS} are the most at once: give it to us in parts."
        )
    return Table(
        rows=tuple(FileRow(row.number, (row.cells + ("",) * width)[:width]) for row in rows),
    )


def _filled_width(cells: tuple[str, ...]) -> int:
    return max((index + 1 for index, cell in enumerate(cells) if cell), default=0)


def _records(text: str, delimiter: str) -> list[list[str]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        return list(reader)
    except csv.Error:
        raise RosterError(
            f"A quotation mark near line {reader.line_num} is never closed, or stands inside a name: "
            "take it out, or double it."
        ) from None


def _delimiter(text: str) -> str:
    """The separator that cuts most rows into equally many cells, at least two; the comma if none does."""
    best, best_score = ",", (0, 0)
    for delimiter in DELIMITERS:
        try:
            reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
            sample = [
                len(record) for record, _ in zip(reader, range(SAMPLE_ROWS), strict=False) if any(record)
            ]
        except csv.Error:
            continue
        widths = Counter(width for width in sample if width > 1)
        if widths:
            width, count = max(widths.items(), key=lambda item: (item[1], item[0]))
            if (count, width) > best_score:
                best, best_score = delimiter, (count, width)
    return best
