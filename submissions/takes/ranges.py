"""Which bytes does a Range header ask for? RFC 9110, section 14, for one range.

Several ranges in one header are answered with the whole file, as the standard allows; no player asks so.
"""

import re
from dataclasses import dataclass

ONE_RANGE = re.compile(r"bytes=(\d*)-(\d*)", re.ASCII)


class Unsatisfiable(Exception):
    """The range begins behind the end of the file."""


@dataclass(frozen=True, slots=True)
class ByteRange:
    """Bytes `first` to `last`, both included."""

    first: int
    last: int

    @property
    def length(self) -> int:
        return self.last - self.first + 1

    def content_range(self, size: int) -> str:
        return f"bytes {self.first}-{self.last}/{size}"


def read_range(header: str | None, *, size: int) -> ByteRange | None:
    """The range asked for, None for the whole file; raises Unsatisfiable.

    A header that is not understood is ignored, as the standard asks.
    """
    asked = ONE_RANGE.fullmatch(header.strip()) if header else None
    if asked is None or asked.group(1) == asked.group(2) == "":
        return None
    first, last = asked.group(1), asked.group(2)
    if not first:
        length = int(last)
        if length == 0 or size == 0:
            raise Unsatisfiable
        return ByteRange(max(0, size - length), size - 1)
    begin, end = int(first), int(last) if last else size - 1
    if last and end < begin:
        return None
    if begin >= size:
        raise Unsatisfiable
    return ByteRange(begin, min(end, size - 1))
