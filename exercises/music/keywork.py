"""What are the keys of each woodwind called, and whose finger presses them?

One list for each fingering table, in the order in which they are said. Words and pictures use the same keys.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum


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


_LEFT, _RIGHT = _main(Hand.LEFT, "LH"), _main(Hand.RIGHT, "RH")


def _left(ident: str, words: str) -> Key:
    return Key(ident, words, Hand.LEFT)


def _right(ident: str, words: str) -> Key:
    return Key(ident, words, Hand.RIGHT)


KEYWORK: Mapping[str, tuple[Key, ...]] = {
    "saxophone": (
        _left("OCT", "octave key"),
        *_LEFT,
        _left("Bis", "bis key with left 1"),
        _left("PalmD", "palm D key"),
        _left("G#Key", "G♯ key"),
        _left("LowC#", "low C♯ key"),
        _left("LowB", "low B key"),
        _left("LowBb", "low B♭ key"),
        *_RIGHT,
        _right("SideBb", "side B♭ key"),
        _right("SideC", "side C key"),
        _right("ChromF#", "F♯ key with right 3"),
        _right("EbKey", "E♭ key"),
        _right("LowC", "low C key"),
    ),
    "flute": (
        _left("Th", "thumb"),
        _left("ThBb", "thumb on the B♭ lever"),
        *_LEFT,
        _left("G#Key", "G♯ key"),
        *_RIGHT,
        _right("BbLever", "side B♭ lever"),
        _right("EbKey", "E♭ key"),
        _right("LowC#", "low C♯ key"),
        _right("LowC", "low C key"),
    ),
    "clarinet": (
        _left("REG", "register key"),
        _left("Th", "thumb"),
        _left("ThroatA", "throat A key"),
        _left("ThroatG#", "throat G♯ key"),
        *_LEFT,
        _left("LSliver", "left sliver key"),
        _left("L_E/B", "left E/B key"),
        _left("L_F/C", "left F/C key"),
        _left("L_F#/C#", "left F♯/C♯ key"),
        _left("L_C#/G#", "left C♯/G♯ key"),
        *_RIGHT,
        _right("Side1", "lowest side key"),
        _right("Side2", "second side key"),
        _right("Sliver", "sliver key with right 3"),
        _right("R_E/B", "right E/B key"),
        _right("R_F/C", "right F/C key"),
        _right("R_F#/C#", "right F♯/C♯ key"),
        _right("R_Ab/Eb", "right A♭/E♭ key"),
    ),
    "oboe": (
        _left("OCT1", "thumb octave key"),
        _left("OCT2", "side octave key"),
        _left("Half", "left 1 on the half hole"),
        *_LEFT,
        _left("LeftF", "left F key"),
        _left("G#Key", "G♯ key"),
        _left("LowB", "low B key"),
        _left("LowBb", "low B♭ key"),
        *_RIGHT,
        _right("FKey", "F key with right 3"),
        _right("EbKey", "E♭ key"),
        _right("C#Key", "C♯ key"),
        _right("LowC", "low C key"),
    ),
    "bassoon": (
        _left("Wh", "whisper key"),
        _left("Half", "left 1 on the half hole"),
        *_LEFT,
        *_RIGHT,
        _right("RTh_E", "right thumb E key"),
        _right("RTh_F#", "right thumb F♯ key"),
        _right("RTh_Bb", "right thumb B♭ key"),
        _right("FKey", "F key"),
        _right("AbKey", "A♭ key"),
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
        else:
            words.append(key.words)
        hand_open = key.hand if key.finger else None
    if not words:
        return "No keys: all open"
    text = ", ".join(words)
    return text[0].upper() + text[1:]
