"""How is this part probably printed, when only its sounding pitches are known?

Definition: the sounding notes are moved to the instrument's written pitch; the key signature that leaves
the fewest signs to print is taken, and every note is spelled by it, notes outside the key as the nearest
sharp or flat. Bars come from the beats.

Assumptions: the instrument's transposition is known by its name; the part is in a beginner's key (up to
five signs). A score that brings its own written notes is never touched.
"""

from collections.abc import Sequence
from dataclasses import replace

from submissions.listening.score import LETTERS, Score, WrittenNote

NATURALS = (0, 2, 4, 5, 7, 9, 11)
SHARP_ORDER = (3, 0, 4, 1, 5, 2, 6)
FLAT_ORDER = tuple(reversed(SHARP_ORDER))
MOST_SIGNS = 5
KEYS_TRIED = 3
SIGN_COST, KEY_COST = 1.0, 0.35
"""A sign printed at a note against one more sign in the key."""

_CHROMATIC = (
    ("bass_clarinet", -14),
    ("clarinet", -2),
    ("alto_sax", -9),
    ("tenor_sax", -14),
    ("bari", -21),
    ("soprano_sax", -2),
    ("baritone_tc", -14),
    ("baritone_bc", 0),
    ("trumpet", -2),
    ("cornet", -2),
    ("horn", -7),
    ("bell", 24),
    ("glock", 24),
    ("xylo", 12),
    ("flute", 0),
    ("oboe", 0),
    ("bassoon", 0),
    ("trombone", 0),
    ("tuba", 0),
    ("euphonium", 0),
)
"""Written-to-sounding in semitones; the first name contained in the instrument's own decides."""


def written_to_sounding(instrument: str) -> int | None:
    """Semitones from what the instrument reads to what sounds; None for an unknown instrument."""
    name = instrument.lower().replace(" ", "_").replace("-", "_")
    if name.startswith("baritone") and "sax" not in name:
        return -14 if "tc" in name else 0
    return next((chromatic for word, chromatic in _CHROMATIC if word in name), None)


def key_alters(fifths: int) -> list[int]:
    """The alteration of each letter from C to B under a key signature."""
    alters = [0] * 7
    for letter in SHARP_ORDER[: max(0, fifths)]:
        alters[letter] = 1
    for letter in FLAT_ORDER[: max(0, -fifths)]:
        alters[letter] = -1
    return alters


def with_written(score: Score) -> Score:
    """The score with written notes and a key: its own where given, else the likeliest printing."""
    return printings(score)[0]


def printings(score: Score) -> list[Score]:
    """Every way the part may be printed: its own alone, or the likeliest keys with sharps and with flats."""
    if score.fifths is not None and all(note.written for note in score.notes):
        return [score]
    chromatic = written_to_sounding(score.instrument) or 0
    written = [midi - chromatic for midi in score.midis]
    keys = [score.fifths] if score.fifths is not None else likeliest_keys(written)[:KEYS_TRIED]
    found: list[Score] = []
    for fifths in keys:
        for sharps in (fifths >= 0, fifths < 0):
            printing = _printing(score, written, fifths, sharps=sharps)
            if printing not in found:
                found.append(printing)
    return found


def _printing(score: Score, written: Sequence[int], fifths: int, *, sharps: bool) -> Score:
    spelled = []
    for note, midi in zip(score.notes, written, strict=True):
        letter, alter, octave = spell(midi, fifths, sharps=sharps)
        bar, beat = divmod(note.start_beat, score.beats_per_bar)
        spelled.append(
            replace(note, written=WrittenNote(LETTERS[letter], alter, octave, int(bar) + 1, beat + 1, ""))
        )
    return replace(score, notes=tuple(spelled), fifths=fifths)


def likeliest_keys(written: Sequence[int]) -> list[int]:
    """Fifths of every beginner's key, the one that leaves the least to print first."""

    def cost(fifths: int) -> float:
        inside = {(natural + alter) % 12 for natural, alter in zip(NATURALS, key_alters(fifths), strict=True)}
        home = (7 * fifths) % 12
        signs = sum(midi % 12 not in inside for midi in written)
        ends_home = written[-1] % 12 in (home, (home + 9) % 12)
        return SIGN_COST * signs + KEY_COST * abs(fifths) - (0.8 if ends_home else 0.0)

    return sorted(range(-MOST_SIGNS, MOST_SIGNS + 1), key=lambda fifths: (cost(fifths), abs(fifths)))


def spell(midi: int, fifths: int, *, sharps: bool | None = None) -> tuple[int, int, int]:
    """(letter from C, alter, octave) of a written pitch: in the key, else a natural, else a sharp or flat.

    Sharps in sharp keys and flats in flat keys, unless `sharps` says otherwise.
    """
    sharps = fifths >= 0 if sharps is None else sharps
    alters = key_alters(fifths)
    options = []
    for letter, natural in enumerate(NATURALS):
        for alter in (-1, 0, 1):
            if (natural + alter - midi) % 12 == 0:
                in_key = alter == alters[letter]
                against = alter < 0 if sharps else alter > 0
                options.append(((not in_key, alter != 0, against), letter, alter))
    _, letter, alter = min(options)
    return letter, alter, (midi - alter - NATURALS[letter]) // 12 - 1


def name(midi: int, fifths: int) -> str:
    """A written pitch in words' short form, as "F#4" or "Bb3"."""
    letter, alter, octave = spell(midi, fifths)
    return f"{LETTERS[letter]}{('', '#', 'b')[alter]}{octave}"
