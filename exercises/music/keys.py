"""What does a key signature do? Fifths, altered letters, names, and the key of a transposed part.

`fifths` counts signs as MusicXML does: 2 is two sharps, -3 three flats.
"""

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from exercises.music.pitch import Interval, Pitch
from exercises.music.voice import gettext as _
from exercises.music.voice import listed, ngettext

SHARP_ORDER = "FCGDAEB"
MOST_FIFTHS = 7
#: Keys beyond this many signs are rewritten enharmonically; a setting of the band.
DEFAULT_KEY_LIMIT = 5

_MAJOR = ("C", "G", "D", "A", "E", "B", "F#", "C#")
_MAJOR_FLAT = ("C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "Cb")
_LETTER_FIFTHS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}


@cache
def key_alters(fifths: int) -> Mapping[str, int]:
    """Letters that the signature alters, with the alteration: {"B": -1, "E": -1} for two flats."""
    letters = SHARP_ORDER[:fifths] if fifths > 0 else SHARP_ORDER[::-1][:-fifths]
    return MappingProxyType(dict.fromkeys(letters, 1 if fifths > 0 else -1))


def key_letters(fifths: int) -> tuple[str, ...]:
    """The altered letters in the order in which they are printed."""
    return tuple(key_alters(fifths))


def tonic(fifths: int, *, octave: int = 4) -> Pitch:
    """First note of the major key with this signature."""
    name = _MAJOR[fifths] if fifths >= 0 else _MAJOR_FLAT[-fifths]
    return Pitch.parse(f"{name}{octave}")


def key_words(fifths: int) -> str:
    """ "2 flats: B and E" for -2; what a student looks for at the start of the line."""
    if fifths == 0:
        return _("no sharps or flats")
    letters = key_letters(fifths)
    if fifths > 0:
        words = ngettext("{count} sharp: {letters}", "{count} sharps: {letters}", len(letters))
    else:
        words = ngettext("{count} flat: {letters}", "{count} flats: {letters}", len(letters))
    return words.format(count=len(letters), letters=listed(letters))


def fifths_of(interval: Interval) -> int:
    """How many fifths a key moves when every note moves by this interval (a major second up: 2)."""
    moved = Pitch("C", 0, 4).moved(interval)
    return _LETTER_FIFTHS[moved.letter] + 7 * moved.alter


def friendlier_key(fifths: int, *, limit: int = DEFAULT_KEY_LIMIT) -> int:
    """The same key, or its enharmonic twin when it has more than `limit` signs and the twin has no more.

    Between six sharps and six flats the flats win: a band's instruments are flat ones (common practice, no
    source).
    """
    if abs(fifths) <= limit:
        return fifths
    twin = fifths - 12 if fifths > 0 else fifths + 12
    if abs(twin) == abs(fifths):
        return min(fifths, twin)
    return twin if abs(twin) < abs(fifths) else fifths
