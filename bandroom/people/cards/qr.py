"""A QR code as the path of one SVG, so that a page needs no picture file."""

from dataclasses import dataclass

import segno

# Modules of white that ISO/IEC 18004 asks for on every side.
QUIET_ZONE = 4


@dataclass(frozen=True, slots=True)
class QrDrawing:
    """A square of `side` units with the quiet zone included; `path` fills the dark modules, one unit each."""

    side: int
    path: str


def qr_drawing(text: str) -> QrDrawing:
    code = segno.make(text, error="m", micro=False)
    steps = []
    for y, row in enumerate(code.matrix):
        x = 0
        while x < len(row):
            run = x
            while run < len(row) and row[run]:
                run += 1
            if run > x:
                steps.append(f"M{x + QUIET_ZONE} {y + QUIET_ZONE}h{run - x}v1h-{run - x}z")
            x = max(run, x + 1)
    return QrDrawing(side=len(code.matrix) + 2 * QUIET_ZONE, path="".join(steps))
