"""Seven short exercises of our own, in concert pitch: line A in halves, line B the same in quarters."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class DemoPiece:
    title: str
    fifths: int
    line_a: str
    line_b: str
    tempo: int = 72


PIECES = (
    DemoPiece(
        "Lantern Steps",
        -2,
        "Bb3:2 C4 | D4 C4 | Bb3 D4 | Bb3:4 |",
        "Bb3:1 C4 Bb3 C4 | D4 C4 D4 C4 | Bb3 C4 D4 C4 | Bb3:4 |",
        66,
    ),
    DemoPiece(
        "Two Doors Down",
        -2,
        "D4:2 C4 | Bb3 A3 | Bb3 C4 | D4 Eb4 | D4 C4 | Bb3:4 |",
        "D4:1 C4 D4 C4 | Bb3 A3 Bb3 A3 | Bb3 C4 D4 Eb4 | D4 C4 Bb3 A3 | Bb3 C4 A3 C4 | Bb3:4 |",
    ),
    DemoPiece(
        "Copper Stairs",
        -2,
        "Bb3:2 C4 | D4 Eb4 | F4 Eb4 | D4 C4 | D4 Bb3 | Bb3:4 |",
        "Bb3:1 C4 D4 C4 | D4 Eb4 F4 Eb4 | F4 Eb4 D4 C4 | D4 Eb4 D4 C4 | Bb3 D4 C4 A3 | Bb3:4 |",
    ),
    DemoPiece(
        "Half a Hill",
        -3,
        "Eb4:2 D4 | C4 Bb3 | C4 D4 | Eb4 F4 | G4 F4 | Eb4:4 |",
        "Eb4:1 D4 Eb4 D4 | C4 Bb3 C4 D4 | Eb4 F4 Eb4 D4 | Eb4 F4 G4 F4 | Eb4 G4 F4 D4 | Eb4:4 |",
        76,
    ),
    DemoPiece(
        "Long Way Round",
        -2,
        "Bb3:2 B3 | C4 B3 | Bb3 A3 | Bb3 C4 | D4 Db4 | C4 A3 | Bb3:4 |",
        "Bb3:1 B3 C4 B3 | Bb3 A3 Bb3 C4 | D4 Db4 C4 Db4 | D4 C4 Bb3 A3 | C4 B3 C4 A3 | Bb3:4 |",
    ),
    DemoPiece(
        "Sidesteps No. 3",
        -2,
        "Bb3:2 A3 | G3 Ab3 | G3 A3 | C4 F3 | G3 F#3 | F3 G3 | A3 C4 | Bb3:4 |",
        "Bb3:1 A3 G3 A3 | G3 Ab3 A3 Ab3 | G3 F#3 G3 F3 | F3:2 F#3~ | F#3:1 F3 G3 rest | Eb3 E3 F3 Eb3 |"
        " D3 C4 A3 F3 | Bb3:4 |",
    ),
    DemoPiece(
        "Evening Ladder",
        -2,
        "F3:2 G3 | A3 Bb3 | C4 Bb3 | A3 Ab3 | G3 A3 | Bb3:4 |",
        "F3:1 G3 A3 G3 | A3 Bb3 C4 Bb3 | A3 Ab3 G3 Ab3 | A3 Bb3 C4 A3 | G3 A3 F3 A3 | Bb3:4 |",
    ),
)
