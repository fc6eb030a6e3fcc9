"""Was the part of another instrument played?

Definition: the take is decoded in full at the three transpositions whose quick match is cheapest and as
written; another transposition is believed only when its path is better than the written one by more than
a margin, and when most of its notes then sound as that part has them.

Assumptions: reading another instrument's part moves every note by the same interval. A key signature that
was forgotten moves only some, so those readings are decoded first and, where they explain the take about
as well, they win: a beginner forgets a key more often than she picks up another part. A semitone's
transposition with tuning far from zero is tuning.
"""

from collections.abc import Sequence

import numpy as np

from submissions.listening.tempo import SECONDS_PER_BEAT, Event, Match, match

INTERVALS = tuple(step for step in range(-24, 25) if step)
TRIED_IN_FULL = 3
MARGIN = 8.0
"""Log-likelihood another part must gain: about two wrong notes."""
AGREEMENT = 0.6
"""Share of the written notes reached that must sound as the other part has them."""
FEWEST_REACHED = 5
"""Fewer notes than this name no part."""
ENOUGH_AS_WRITTEN = 0.75
"""With this share of notes as written, no other part is tried."""

_PARTS = {
    "C (flute, oboe, trombone, bells)": 0,
    "B-flat (clarinet, trumpet, tenor saxophone)": -2,
    "E-flat (alto or baritone saxophone)": -9,
    "F (horn)": -7,
}


def likeliest(
    heard: Sequence[Event],
    *,
    pitches: Sequence[int],
    beats: Sequence[float],
    printed_bpm: float | None,
    seconds_per_beat: float,
) -> list[Match]:
    """The transpositions worth decoding in full, cheapest quick match first.

    The tempo found for the line as written says little when another was played, so all are tried again.
    """
    found = match(
        heard,
        pitches=pitches,
        beats=beats,
        printed_bpm=printed_bpm,
        seconds_per_beat=np.concatenate([SECONDS_PER_BEAT[::2], [seconds_per_beat]]),
        transpositions=INTERVALS,
    )
    return found[:TRIED_IN_FULL]


def part_played(own_chromatic: int | None, transposed: int) -> str:
    """One sentence naming the part that would make the heard notes from the right written ones.

    `own_chromatic` is written-to-sounding of the student's own instrument in semitones. A student reading
    X's part on instrument I plays X's written notes, which sound `I - X` away from where they should.
    """
    where = "above" if transposed > 0 else "below"
    size = abs(transposed)
    plain = f"Every note sounds {size} semitone{'s' if size != 1 else ''} {where} the part"
    if own_chromatic is None:
        return f"{plain}: the line was read from another part or on another instrument."
    for name, chromatic in _PARTS.items():
        if chromatic % 12 != own_chromatic % 12 and (own_chromatic - chromatic - transposed) % 12 == 0:
            return f"{plain}, as when the part in {name} is read on this instrument."
    if size % 12 == 0:
        return f"{plain}: the right notes in another octave."
    return f"{plain}: the line was read from another part or in another clef."
