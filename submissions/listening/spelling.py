"""How is this part probably printed, when only its sounding pitches are known?

Definition: the sounding notes are moved to the instrument's written pitch and spelled in every key a
beginner meets, notes outside the key as a natural, a sharp or a flat. Each such printing is weighed by how
usual its key is in a band and how few notes lie outside it. Bars come from the beats.

Assumptions: an instrument whose transposition is not told sounds as written; up to five signs in the key; a
pitch is spelled one way throughout a bar, and never as E-sharp, B-sharp, C-flat or F-flat outside such a key.
The weights are common practice and judgement, no source. A score that brings its own written notes is never
touched.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, log

from submissions.listening.score import LETTERS, Score, WrittenNote

NATURALS = (0, 2, 4, 5, 7, 9, 11)
SHARP_ORDER = (3, 0, 4, 1, 5, 2, 6)
FLAT_ORDER = tuple(reversed(SHARP_ORDER))
MOST_SIGNS = 5
HOME_FIFTHS = -2
"""B-flat concert, the band's own key."""
KEY_COST, HOME_GAIN = 0.45, 0.8
"""What a step of fifths away from the band's key costs, and what an end on the key's own note (or on its
relative minor's) gains: natural logarithms of chances."""
OUTSIDE = (0.04, 0.15, 0.35)
"""Share of a line's pitches outside its key: a scale, a tune, a chromatic study. Any may be meant."""
KEYS_WITHIN = 4.0
WITH_THE_KEY = 0.6
"""Chance that a pitch outside the key is printed as a sharp in a key of sharps, as a flat in one of flats."""

type Steps = Mapping[tuple[int, int], int]
"""By bar and sounding pitch: how far from it, in semitones, its letter sounds where no sign stands."""


def key_alters(fifths: int) -> list[int]:
    """The alteration of each letter from C to B under a key signature."""
    alters = [0] * 7
    for letter in SHARP_ORDER[: max(0, fifths)]:
        alters[letter] = 1
    for letter in FLAT_ORDER[: max(0, -fifths)]:
        alters[letter] = -1
    return alters


@dataclass(frozen=True, slots=True)
class Printing:
    """One way the part may be printed."""

    score: Score
    """With a written note for every note, and a key."""
    log_chance: float
    """Of this printing among all that are considered."""


def with_written(score: Score) -> Score:
    """The score with written notes and a key: its own where given, else the likeliest printing."""
    return printings(score)[0].score


def printings(score: Score, *, steps: Steps | None = None) -> list[Printing]:
    """The part in every key it may be printed in, the likeliest first: its own alone where it is given.

    With `steps` the notes named there are spelled so, in the keys that can, at the price of its chance.
    """
    if score.fifths is not None and all(note.written for note in score.notes):
        return [Printing(score, 0.0)]
    chromatic = score.transposition or 0
    written = [midi - chromatic for midi in score.midis]
    costs = key_costs(written, chromatic=chromatic) if score.fifths is None else {score.fifths: 0.0}
    cheapest = min(costs.values())
    likely = {fifths: cost - cheapest for fifths, cost in costs.items() if cost <= cheapest + KEYS_WITHIN}
    total = log(sum(exp(-cost) for cost in likely.values()))
    found = [
        _printed(score, written, fifths, steps or {}, log_chance=-cost - total)
        for fifths, cost in likely.items()
    ]
    return sorted(found, key=lambda printing: -printing.log_chance)


def key_costs(written: Sequence[int], *, chromatic: int = 0) -> dict[int, float]:
    """By fifths of every beginner's key, the likeliest first, how unlikely these notes are in it."""
    own = (-7 * chromatic + 5) % 12 - 5  # from the key that sounds to the one that is printed

    def cost(fifths: int) -> float:
        inside = _inside(fifths)
        home = (7 * fifths) % 12
        outside = sum(midi % 12 not in inside for midi in written)
        ends_home = written[-1] % 12 in (home, (home + 9) % 12)
        away = abs(fifths - own - HOME_FIFTHS)
        return KEY_COST * away - _fit(len(written), outside) - (HOME_GAIN if ends_home else 0.0)

    costs = {fifths: cost(fifths) for fifths in range(-MOST_SIGNS, MOST_SIGNS + 1)}
    return dict(sorted(costs.items(), key=lambda item: (item[1], abs(item[0]))))


def _fit(notes: int, outside: int) -> float:
    """Log-chance of that many notes outside the key's seven pitch classes, however chromatic the line."""
    chances = [outside * log(share / 5) + (notes - outside) * log((1 - share) / 7) for share in OUTSIDE]
    top = max(chances)
    return top + log(sum(exp(chance - top) for chance in chances) / len(chances))


def _inside(fifths: int) -> set[int]:
    return {(natural + alter) % 12 for natural, alter in zip(NATURALS, key_alters(fifths), strict=True)}


def _ways(written: int, fifths: int) -> list[tuple[int, int, float]]:
    """(letter, alter, chance) of every spelling of a written pitch, the likeliest first."""
    if written % 12 in _inside(fifths):
        letter, alter, _ = spell(written, fifths)
        return [(letter, alter, 1.0)]
    ways = [
        (letter, alter)
        for letter, natural in enumerate(NATURALS)
        for alter in (-1, 0, 1)
        if (natural + alter - written) % 12 == 0
    ]
    plain = [way for way in ways if way[1] == 0] or ways
    if len(plain) == 1:
        return [(*plain[0], 1.0)]
    own = 1 if fifths >= 0 else -1
    told = [(letter, alter, WITH_THE_KEY if alter == own else 1 - WITH_THE_KEY) for letter, alter in plain]
    return sorted(told, key=lambda way: -way[2])


def _printed(
    score: Score, written: Sequence[int], fifths: int, steps: Steps, *, log_chance: float
) -> Printing:
    spelled, alters, settled = [], key_alters(fifths), set[tuple[int, int]]()
    for note, midi in zip(score.notes, written, strict=True):
        bar, beat = divmod(note.start_beat, score.beats_per_bar)
        place = (int(bar) + 1, note.midi)
        ways = _ways(midi, fifths)
        wanted = [way for way in ways if place in steps and alters[way[0]] - way[1] == steps[place]]
        letter, alter, chance = (wanted or ways)[0]
        if wanted and place not in settled:
            settled.add(place)
            log_chance += log(chance)
        octave = (midi - alter - NATURALS[letter]) // 12 - 1
        at = WrittenNote(LETTERS[letter], alter, octave, place[0], beat + 1, "")
        spelled.append(replace(note, written=at))
    return Printing(replace(score, notes=tuple(spelled), fifths=fifths), log_chance)


def spell(midi: int, fifths: int) -> tuple[int, int, int]:
    """(letter from C, alter, octave) of a written pitch: in the key, else a natural, else a sharp in a key
    of sharps and a flat in a key of flats.
    """
    sharps = fifths >= 0
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


def parse_name(name: str) -> tuple[int, int, int]:
    """(letter from C, alter, octave) of a pitch as `name` writes it."""
    sign = name[1:2] if name[1:2] in ("#", "b") else ""
    return LETTERS.index(name[0]), {"": 0, "#": 1, "b": -1}[sign], int(name[1 + len(sign) :])


def letter_name(name: str) -> str:
    """ "F#4" as "F♯", as it is said: the octave is left to the distance from what is written."""
    letter = name.rstrip("0123456789-")
    return letter[:1] + letter[1:].replace("#", "♯").replace("b", "♭")
