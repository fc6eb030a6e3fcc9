"""Reads a QR code, so that what the cards print is checked by something that did not draw it.

Written from ISO/IEC 18004:2015 as far as our codes need it (from memory of the standard): versions 2 to 6
at error correction level M, byte mode, no damage. The codewords are read off the modules along the
standard's zigzag, the blocks taken apart; error correction words are not used, but a wrong module still
shows as a wrong text.
"""

from collections.abc import Sequence

Matrix = Sequence[Sequence[bool]]

FORMAT_MASK = 0b101010000010010
LEVEL_M = 0b00
# Version: data codewords of each block at level M (ISO/IEC 18004 table 9).
BLOCKS_M = {2: [28], 3: [44], 4: [32, 32], 5: [43, 43], 6: [27, 27, 27, 27]}
BYTE_MODE = 0b0100
MASKS = (
    lambda i, j: (i + j) % 2 == 0,
    lambda i, j: i % 2 == 0,
    lambda i, j: j % 3 == 0,
    lambda i, j: (i + j) % 3 == 0,
    lambda i, j: (i // 2 + j // 3) % 2 == 0,
    lambda i, j: i * j % 2 + i * j % 3 == 0,
    lambda i, j: (i * j % 2 + i * j % 3) % 2 == 0,
    lambda i, j: ((i + j) % 2 + i * j % 3) % 2 == 0,
)


def read_qr(matrix: Matrix) -> str:
    """The text of a code given without its quiet zone; True is a dark module."""
    size = len(matrix)
    version = (size - 17) // 4
    level, mask = _format(matrix)
    assert level == LEVEL_M, f"level {level:02b} is not M"
    bits = _bits(matrix, mask=MASKS[mask], size=size, version=version)
    words = [int("".join(map(str, bits[at : at + 8])), 2) for at in range(0, len(bits) - 7, 8)]
    lengths = BLOCKS_M[version]
    blocks: list[list[int]] = [[] for _ in lengths]
    read = iter(words)
    for _ in range(lengths[0]):
        for block in blocks:
            block.append(next(read))
    return _text("".join(f"{word:08b}" for block in blocks for word in block))


def _format(matrix: Matrix) -> tuple[int, int]:
    """Error correction level and mask from the copy beside the upper left finder."""
    places = [(8, j) for j in (0, 1, 2, 3, 4, 5, 7, 8)] + [(i, 8) for i in (7, 5, 4, 3, 2, 1, 0)]
    value = 0
    for i, j in places:
        value = value << 1 | matrix[i][j]
    value ^= FORMAT_MASK
    return value >> 13, value >> 10 & 0b111


def _is_function(i: int, j: int, *, size: int) -> bool:
    """Finders with their formats, timing, the one alignment pattern of versions 2 to 6."""
    if (i < 9 and j < 9) or (i < 9 and j >= size - 8) or (i >= size - 8 and j < 9):
        return True
    return 6 in (i, j) or (size - 9 <= i <= size - 5 and size - 9 <= j <= size - 5)


def _bits(matrix: Matrix, *, mask, size: int, version: int) -> list[int]:
    bits = []
    upward = True
    column = size - 1
    while column > 0:
        if column == 6:
            column -= 1
        for step in range(size):
            i = size - 1 - step if upward else step
            for j in (column, column - 1):
                if not _is_function(i, j, size=size):
                    bits.append(int(bool(matrix[i][j]) ^ mask(i, j)))
        upward = not upward
        column -= 2
    return bits


def _text(bits: str) -> str:
    assert int(bits[:4], 2) == BYTE_MODE
    length = int(bits[4:12], 2)
    return bytes(int(bits[at : at + 8], 2) for at in range(12, 12 + 8 * length, 8)).decode()
