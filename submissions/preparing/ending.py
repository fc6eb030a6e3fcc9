"""Does a file end inside something it began? By the formats' own definitions, named beside each.

A recorder that streams writes no length of the whole, so a file cut off on its way looks like a shorter one
to a decoder. But it writes the length of each part, and a cut falls into one. What a format does not say is
taken for whole: nobody is told of a missing end that may not be missing.
"""

import os
from pathlib import Path
from typing import BinaryIO

# Enough for the parts of the longest take; a file of nothing but tiny parts is not walked for ever.
MOST_PARTS = 500_000
# RIFF and EBML say "length unknown" so; a recorder that streams cannot know it.
RIFF_UNKNOWN = frozenset({0, 0xFFFF_FFFF})
# IDs of elements that are walked into (RFC 9559, section 5.1): the segment, and a cluster in it.
SEGMENT, CLUSTER = 0x18538067, 0x1F43B675
# Of an MPEG audio frame that holds no sound but a table: at most so far from its start stands the mark.
TABLE_WITHIN = 40
TABLE_BYTES = 16
ID3_HEADER = 10
# Of MPEG audio, layer III: kilobits a second by index 1 to 14, samples a second by index 0 to 2, of MPEG 1;
# of MPEG 2 and 2.5 the other rates, at a half and a quarter (ISO/IEC 11172-3, 2.4.2.3; 13818-3, 2.4.2.3).
KILOBITS = (32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320)
KILOBITS_OF_2 = (8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160)
RATES = (44_100, 48_000, 32_000)
RATE_OF_VERSION = {0b11: 1, 0b10: 2, 0b00: 4}
LAYER_III = 0b01


def ends_inside(path: Path, *, kind: frozenset[str]) -> bool:
    """Whether a part of the file, of a container that FFmpeg calls `kind`, promises more than there is."""
    size = path.stat().st_size
    with path.open("rb") as file:
        if "wav" in kind:
            return _riff(file, size)
        if kind & {"matroska", "webm"}:
            return _ebml(file, size)
        if "mp4" in kind:
            return _whole_boxes(file, size) < size
        if "ogg" in kind:
            return _ogg(file, size)
        if "mp3" in kind:
            return _mp3(file, size)
    return False


def _riff(file: BinaryIO, size: int) -> bool:
    promised = int.from_bytes(file.read(8)[4:8], "little")
    return promised not in RIFF_UNKNOWN and promised + 8 > size


def _ebml(file: BinaryIO, size: int) -> bool:
    """RFC 8794: an element is an ID, a length, a body; segments and clusters are walked into."""
    for _ in range(MOST_PARTS):
        if file.tell() == size:
            return False
        element, length = _number(file, keep_marker=True), _number(file, keep_marker=False)
        if element is None or length is None:
            return file.tell() >= size  # a damaged one says nothing of the end
        end = None if length < 0 else file.tell() + length
        if end is not None and end > size:
            return True
        if element in {SEGMENT, CLUSTER}:
            continue
        if end is None:
            return False
        file.seek(end)
    return False


def _number(file: BinaryIO, *, keep_marker: bool) -> int | None:
    """RFC 8794, section 4: a number of one to eight bytes. -1 for "unknown", None where there is none."""
    first = file.read(1)
    if not first or not first[0]:
        return None
    count = 9 - first[0].bit_length()
    rest = file.read(count - 1)
    if len(rest) < count - 1:
        return None
    whole = int.from_bytes(first + rest, "big")
    if keep_marker:
        return whole
    value = whole & ((1 << (7 * count)) - 1)
    return -1 if value == (1 << (7 * count)) - 1 else value


def whole_boxes(path: Path) -> int:
    """How many bytes a file of the mp4 family has up to the end of its last whole box."""
    with path.open("rb") as file:
        return _whole_boxes(file, path.stat().st_size)


def _whole_boxes(file: BinaryIO, size: int) -> int:
    """ISO/IEC 14496-12, section 4.2: a box is its size, its type, its body; size 0 reaches to the end."""
    place = 0
    for _ in range(MOST_PARTS):
        file.seek(place)
        head = file.read(16)
        length = int.from_bytes(head[:4], "big")
        if length == 1:
            length = int.from_bytes(head[8:16], "big")
        if length == 0 or 1 < length < 8 or place + length > size or len(head) < 8:
            # to the end, damage that says nothing of the end, or a box that is not whole
            return size if len(head) >= 8 and length < 8 else place
        place += length
    return size


def _ogg(file: BinaryIO, size: int) -> bool:
    """RFC 3533, section 6: a page is 27 bytes, a table of lengths, their sum."""
    place = 0
    for _ in range(MOST_PARTS):
        if place >= size:
            return place > size
        file.seek(place)
        head = file.read(27)
        if len(head) < 27:
            return True
        if not head.startswith(b"OggS"):
            return False
        table = file.read(head[26])
        if len(table) < head[26]:
            return True
        place += 27 + head[26] + sum(table)
    return False


def _mp3(file: BinaryIO, size: int) -> bool:
    """By the table that most encoders put in front; without one, by the length of each frame."""
    start = _behind_id3(file)
    promised = _bytes_by_table(file, start)
    if promised is not None:
        return start + promised > size
    place = start
    for _ in range(MOST_PARTS):
        file.seek(place)
        length = _frame_bytes(file.read(4))
        if length is None:  # a tag, another kind of frame, damage, or the very end
            return False
        place += length
        if place > size:
            return True
    return False


def _bytes_by_table(file: BinaryIO, start: int) -> int | None:
    """A first frame without sound says how many bytes there are.

    Its layout by its makers' description (Xing; LAME's "Info" is the same): mark, flags, frames if flag 1,
    bytes if flag 2.
    """
    file.seek(start)
    head = file.read(TABLE_WITHIN + TABLE_BYTES)
    mark = max(head.find(b"Xing"), head.find(b"Info"))
    flags = int.from_bytes(head[mark + 4 : mark + 8], "big") if mark >= 0 else 0
    if not flags & 2:
        return None
    place = mark + 8 + (4 if flags & 1 else 0)
    return int.from_bytes(head[place : place + 4], "big")


def _frame_bytes(head: bytes) -> int | None:
    """The length of a frame of layer III by its header; None where it is none, or leaves its rate open."""
    if len(head) < 4 or head[0] != 0xFF or head[1] & 0xE0 != 0xE0 or head[1] >> 1 & 0b11 != LAYER_III:
        return None
    slower = RATE_OF_VERSION.get(head[1] >> 3 & 0b11)
    kilobits, rate, padding = head[2] >> 4, head[2] >> 2 & 0b11, head[2] >> 1 & 1
    if slower is None or not 1 <= kilobits <= len(KILOBITS) or rate >= len(RATES):
        return None
    table, eighths = (KILOBITS, 144) if slower == 1 else (KILOBITS_OF_2, 72)
    return eighths * table[kilobits - 1] * 1000 * slower // RATES[rate] + padding


def _behind_id3(file: BinaryIO) -> int:
    """Where the sound begins; a tag's length is written in sevens (id3.org, ID3v2, section 3.1)."""
    file.seek(0, os.SEEK_SET)
    tag = file.read(ID3_HEADER)
    if not tag.startswith(b"ID3") or len(tag) < ID3_HEADER:
        return 0
    length = 0
    for byte in tag[6:]:
        length = length << 7 | byte & 0x7F
    return ID3_HEADER + length
