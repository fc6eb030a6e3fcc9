"""How is a sounding note spelled when nobody said? For MIDI files and for lines built from a pattern.

A note of the key keeps the key's spelling. Otherwise a rising line writes sharps and a falling one flats; a
note between two equal neighbours (G, F sharp, G) is written on the letter next to them, so that the eye sees
the step. Common practice, no source.
"""

from collections.abc import Sequence

from exercises.music.keys import key_alters
from exercises.music.pitch import LETTERS, SEMITONES, Pitch


def spell(midis: Sequence[int | None], fifths: int) -> tuple[Pitch | None, ...]:
    """Pitches for MIDI numbers (None is a rest) in a key. Never a double sign, no E sharp, B sharp, C flat or
    F flat unless the key has it."""
    return tuple(
        None if midi is None else _spelled(midi, _before(midis, place), _after(midis, place), fifths)
        for place, midi in enumerate(midis)
    )


def _before(midis: Sequence[int | None], place: int) -> int | None:
    """The last other sound before a place."""
    return next((midi for midi in reversed(midis[:place]) if midi is not None and midi != midis[place]), None)


def _after(midis: Sequence[int | None], place: int) -> int | None:
    return next((midi for midi in midis[place + 1 :] if midi is not None and midi != midis[place]), None)


def _spelled(midi: int, before: int | None, after: int | None, fifths: int) -> Pitch:
    in_key = _in_key(midi, fifths)
    if in_key is not None:
        return in_key
    natural = _natural(midi)
    if natural is not None:
        return natural
    # A lower neighbour leans on the note above (sharp), an upper one on the note below (flat).
    if before is not None and before == after:
        rising = before > midi
    elif after is not None:
        rising = after > midi
    elif before is not None:
        rising = midi > before
    else:
        rising = fifths > 0
    return _with_alter(midi, 1 if rising else -1)


def _in_key(midi: int, fifths: int) -> Pitch | None:
    alters = key_alters(fifths)
    for letter in LETTERS:
        pitch = _on_letter(midi, letter, alters.get(letter, 0))
        if pitch is not None:
            return pitch
    return None


def _natural(midi: int) -> Pitch | None:
    return next((pitch for letter in LETTERS if (pitch := _on_letter(midi, letter, 0))), None)


def _with_alter(midi: int, alter: int) -> Pitch:
    return next(pitch for letter in LETTERS if (pitch := _on_letter(midi, letter, alter)))


def _on_letter(midi: int, letter: str, alter: int) -> Pitch | None:
    octave, rest = divmod(midi - alter - SEMITONES[letter], 12)
    return Pitch(letter, alter, octave - 1) if rest == 0 else None
