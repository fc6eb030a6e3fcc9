"""Which line does a pattern make? Chromatic walk, scale, five notes, thirds, long tones, in any beginner key.

Each pattern is a row of pitches. Line A has them in half notes, line B the same in quarter notes; the last
note is held to the end of its bar.
"""

from collections.abc import Sequence
from enum import StrEnum
from fractions import Fraction

from exercises.music.errors import MusicError
from exercises.music.keys import key_alters, tonic
from exercises.music.pitch import LETTERS, Pitch
from exercises.music.score import FOUR_FOUR, NOTE_VALUES, Bar, Line, Metre, Note
from exercises.music.spelling import spell

#: Concert keys that keep every part of the band within four sharps or flats, the usual first ones in front
#: (common practice, no source).
BEGINNER_KEYS = (-2, -3, -1, -4, 0)
HALF, QUARTER, WHOLE = Fraction(2), Fraction(1), Fraction(4)
#: Furthest chromatic walk, in half steps: an octave.
FURTHEST_WALK = 12


class Pattern(StrEnum):
    CHROMATIC = "chromatic"
    SCALE = "scale"
    FIVE_NOTES = "five notes"
    THIRDS = "thirds"
    LONG_TONES = "long tones"


def pattern_lines(
    pattern: Pattern,
    *,
    fifths: int,
    octave: int = 3,
    start: Pitch | None = None,
    half_steps: int = 4,
    metre: Metre = FOUR_FOUR,
) -> tuple[Line, Line]:
    """Line A in half notes and line B in quarter notes, in concert pitch.

    octave      octave of the key's first note; the part of each instrument chooses its own
    start       first pitch of a chromatic walk, the key's first note if None
    half_steps  how far the walk goes up before it comes back
    Long tones stand in whole notes in line A and half notes in line B. Raises MusicError.
    """
    row = pattern_pitches(pattern, fifths=fifths, octave=octave, start=start, half_steps=half_steps)
    lengths = (WHOLE, HALF) if pattern is Pattern.LONG_TONES else (HALF, QUARTER)
    line_a, line_b = (
        Line(label, _barred(row, length, metre), metre, fifths)
        for label, length in zip("AB", lengths, strict=True)
    )
    line_a.validate()
    line_b.validate()
    return line_a, line_b


def pattern_pitches(
    pattern: Pattern, *, fifths: int, octave: int = 3, start: Pitch | None = None, half_steps: int = 4
) -> tuple[Pitch, ...]:
    """The pitches of a pattern in order."""
    first = tonic(fifths, octave=octave)
    match pattern:
        case Pattern.CHROMATIC:
            return _walk(start or first, half_steps, fifths)
        case Pattern.SCALE:
            up = [_degree(first, step, fifths) for step in range(8)]
            return (*up, *up[-2::-1])
        case Pattern.FIVE_NOTES:
            up = [_degree(first, step, fifths) for step in range(5)]
            return (*up, *up[-2::-1])
        case Pattern.THIRDS:
            steps = (0, 2, 1, 3, 2, 4, 3, 5, 4, 2, 3, 1, 2, 0, 1, 0)
            return tuple(_degree(first, step, fifths) for step in steps)
        case Pattern.LONG_TONES:
            return tuple(_degree(first, step, fifths) for step in (0, 1, 2, 3, 4, 3, 2, 1, 0))


def _walk(start: Pitch, half_steps: int, fifths: int) -> tuple[Pitch, ...]:
    if not 1 <= half_steps <= FURTHEST_WALK:
        raise MusicError(f"A chromatic walk goes up 1 to {FURTHEST_WALK} half steps.")
    midis = [start.midi + step for step in range(half_steps + 1)]
    row = [*midis, *midis[-2::-1]]
    pitches = [pitch for pitch in spell(row, fifths) if pitch is not None]
    return (start, *pitches[1:-1], start)


def _degree(first: Pitch, steps: int, fifths: int) -> Pitch:
    """The note of the key a number of letter steps above its first one."""
    height = first.height + steps
    letter = LETTERS[height % 7]
    return Pitch(letter, key_alters(fifths).get(letter, 0), height // 7)


def _barred(row: Sequence[Pitch], length: Fraction, metre: Metre) -> tuple[Bar, ...]:
    """Equal notes in bars, the last one held to the end of its bar; a note over a bar line is tied."""
    full = metre.quarters
    bars: list[list[Note]] = [[]]
    room = full
    for place, pitch in enumerate(row):
        left = room if place == len(row) - 1 and length <= room else length
        while left:
            piece = _longest(min(left, room))
            left -= piece
            room -= piece
            bars[-1].append(Note(pitch, piece, tied=bool(left)))
            if not room and (left or place < len(row) - 1):
                bars.append([])
                room = full
    if room:
        bars[-1].append(Note(None, room))
    return tuple(map(tuple, bars))


def _longest(beats: Fraction) -> Fraction:
    """The longest note value that fits."""
    return next(value for value in NOTE_VALUES if value <= beats)
