"""What are the keys of each woodwind called, and whose finger presses them?

One list for each fingering table, in the order in which they are said. Words and pictures use the same keys.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from exercises.music.voice import gettext as _
from exercises.music.voice import gettext_noop


class Hand(StrEnum):
    LEFT = "left"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class Key:
    """One key. `finger` is set for the six main fingers, whose words run together: "left 1 2 3"."""

    id: str
    words: str
    hand: Hand
    finger: int | None = None


def _main(hand: Hand, prefix: str) -> tuple[Key, ...]:
    return tuple(Key(f"{prefix}{finger}", f"{hand} {finger}", hand, finger) for finger in (1, 2, 3))


#: Said before the fingers of a hand: "left 1 2 3".
_HAND_FIRST = {Hand.LEFT: gettext_noop("left {finger}"), Hand.RIGHT: gettext_noop("right {finger}")}


_LEFT, _RIGHT = _main(Hand.LEFT, "LH"), _main(Hand.RIGHT, "RH")


def _left(ident: str, words: str) -> Key:
    return Key(ident, words, Hand.LEFT)


def _right(ident: str, words: str) -> Key:
    return Key(ident, words, Hand.RIGHT)


KEYWORK: Mapping[str, tuple[Key, ...]] = {
    "saxophone": (
        _left("OCT", gettext_noop("octave key")),
        *_LEFT,
        _left("Bis", gettext_noop("bis key with left 1")),
        _left("PalmD", gettext_noop("palm D key")),
        _left("G#Key", gettext_noop("G♯ key")),
        _left("LowC#", gettext_noop("low C♯ key")),
        _left("LowB", gettext_noop("low B key")),
        _left("LowBb", gettext_noop("low B♭ key")),
        *_RIGHT,
        _right("SideBb", gettext_noop("side B♭ key")),
        _right("SideC", gettext_noop("side C key")),
        _right("ChromF#", gettext_noop("F♯ key with right 3")),
        _right("EbKey", gettext_noop("E♭ key")),
        _right("LowC", gettext_noop("low C key")),
    ),
    "flute": (
        _left("Th", gettext_noop("thumb")),
        _left("ThBb", gettext_noop("thumb on the B♭ lever")),
        *_LEFT,
        _left("G#Key", gettext_noop("G♯ key")),
        *_RIGHT,
        _right("BbLever", gettext_noop("side B♭ lever")),
        _right("EbKey", gettext_noop("E♭ key")),
        _right("LowC#", gettext_noop("low C♯ key")),
        _right("LowC", gettext_noop("low C key")),
    ),
    "clarinet": (
        _left("REG", gettext_noop("register key")),
        _left("Th", gettext_noop("thumb")),
        _left("ThroatA", gettext_noop("throat A key")),
        _left("ThroatG#", gettext_noop("throat G♯ key")),
        *_LEFT,
        _left("LSliver", gettext_noop("left sliver key")),
        _left("L_E/B", gettext_noop("left E/B key")),
        _left("L_F/C", gettext_noop("left F/C key")),
        _left("L_F#/C#", gettext_noop("left F♯/C♯ key")),
        _left("L_C#/G#", gettext_noop("left C♯/G♯ key")),
        *_RIGHT,
        _right("Side1", gettext_noop("lowest side key")),
        _right("Side2", gettext_noop("second side key")),
        _right("Sliver", gettext_noop("sliver key with right 3")),
        _right("R_E/B", gettext_noop("right E/B key")),
        _right("R_F/C", gettext_noop("right F/C key")),
        _right("R_F#/C#", gettext_noop("right F♯/C♯ key")),
        _right("R_Ab/Eb", gettext_noop("right A♭/E♭ key")),
    ),
    "oboe": (
        _left("OCT1", gettext_noop("thumb octave key")),
        _left("OCT2", gettext_noop("side octave key")),
        _left("Half", gettext_noop("left 1 on the half hole")),
        *_LEFT,
        _left("LeftF", gettext_noop("left F key")),
        _left("G#Key", gettext_noop("G♯ key")),
        _left("LowB", gettext_noop("low B key")),
        _left("LowBb", gettext_noop("low B♭ key")),
        *_RIGHT,
        _right("FKey", gettext_noop("F key with right 3")),
        _right("EbKey", gettext_noop("E♭ key")),
        _right("C#Key", gettext_noop("C♯ key")),
        _right("LowC", gettext_noop("low C key")),
    ),
    "bassoon": (
        _left("Wh", gettext_noop("whisper key")),
        _left("Half", gettext_noop("left 1 on the half hole")),
        *_LEFT,
        *_RIGHT,
        _right("RTh_E", gettext_noop("right thumb E key")),
        _right("RTh_F#", gettext_noop("right thumb F♯ key")),
        _right("RTh_Bb", gettext_noop("right thumb B♭ key")),
        _right("FKey", gettext_noop("F key")),
        _right("AbKey", gettext_noop("A♭ key")),
    ),
}

#: Fingering table of each woodwind; the bass clarinet reads the clarinet's up to its throat notes.
WOODWIND_TABLE: Mapping[str, str] = {
    "flute": "flute",
    "oboe": "oboe",
    "bassoon": "bassoon",
    "clarinet": "clarinet",
    "bass_clarinet": "clarinet",
    "alto_sax": "saxophone",
    "tenor_sax": "saxophone",
    "bari_sax": "saxophone",
}


def key_ids(table: str) -> tuple[str, ...]:
    """Ids of all keys of a table, in the order in which they are said."""
    return tuple(key.id for key in KEYWORK[table])


def keys_words(table: str, pressed: Sequence[str]) -> str:
    """ "Octave key, left 1 2 3, right 1, F♯ key with right 3"; "No keys: all open" for none."""
    down = set(pressed)
    words: list[str] = []
    hand_open: Hand | None = None
    for key in KEYWORK[table]:
        if key.id not in down:
            continue
        if key.finger and hand_open is key.hand:
            words[-1] += f" {key.finger}"
        elif key.finger:
            words.append(_(_HAND_FIRST[key.hand]).format(finger=key.finger))
        else:
            words.append(_(key.words))
        hand_open = key.hand if key.finger else None
    if not words:
        return _("No keys: all open")
    text = ", ".join(words)
    return text[0].upper() + text[1:]
