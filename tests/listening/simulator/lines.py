"""Lines to be played: chromatic, scale, skips, neighbours; in a beginner's key, with printed signs."""

from dataclasses import dataclass
from random import Random

NATURALS = (0, 2, 4, 5, 7, 9, 11)
LETTERS = "CDEFGAB"
SHARPS = (3, 0, 4, 1, 5, 2, 6)


@dataclass(frozen=True, slots=True)
class Instrument:
    name: str
    chromatic: int
    """Written to sounding."""
    programs: tuple[int, ...]
    """General MIDI, from 0."""
    low: int
    high: int
    """Sounding."""


INSTRUMENTS = (
    Instrument("flute", 0, (73,), 62, 82),
    Instrument("oboe", 0, (68,), 62, 81),
    Instrument("clarinet", -2, (71,), 50, 70),
    Instrument("bass_clarinet", -14, (71,), 40, 57),
    Instrument("bassoon", 0, (70,), 40, 60),
    Instrument("alto_sax", -9, (65,), 51, 72),
    Instrument("tenor_sax", -14, (66,), 46, 67),
    Instrument("bari_sax", -21, (67,), 39, 60),
    Instrument("trumpet", -2, (56,), 55, 70),
    Instrument("horn", -7, (60,), 51, 66),
    Instrument("trombone", 0, (57,), 41, 60),
    Instrument("baritone_bc", 0, (57, 60), 41, 60),
    Instrument("tuba", 0, (58,), 29, 46),
    Instrument("bells", 24, (9,), 79, 103),
    Instrument("xylophone", 12, (13,), 72, 96),
)
MALLETS = (
    Instrument("marimba", 0, (12,), 53, 79),
    Instrument("vibraphone", 0, (11,), 53, 79),
)
BY_NAME = {instrument.name: instrument for instrument in (*INSTRUMENTS, *MALLETS)}
STRUCK = frozenset({"bells", "xylophone", "marimba", "vibraphone"})


@dataclass(frozen=True, slots=True)
class LineNote:
    letter: int
    octave: int
    alter: int
    sign: int | None
    """As printed at the note."""
    bar: int
    start: float
    beats: float

    @property
    def written(self) -> int:
        return 12 * (self.octave + 1) + NATURALS[self.letter] + self.alter


@dataclass(frozen=True, slots=True)
class Line:
    instrument: Instrument
    fifths: int
    notes: tuple[LineNote, ...]

    @property
    def sounding(self) -> list[int]:
        return [note.written + self.instrument.chromatic for note in self.notes]

    def as_score(self, *, tempo: float | None, spelled: bool) -> dict:
        notes = []
        for note, midi in zip(self.notes, self.sounding, strict=True):
            entry = {"midi": midi, "start_beat": note.start, "beats": note.beats}
            if spelled:
                entry["written"] = {
                    "letter": LETTERS[note.letter],
                    "alter": note.alter,
                    "octave": note.octave,
                    "bar": note.bar,
                    "beat": note.start - 4 * (note.bar - 1) + 1,
                    "reason": "",
                }
            notes.append(entry)
        score = {
            "instrument": self.instrument.name,
            "transposition": self.instrument.chromatic,
            "tempo_bpm": tempo,
            "beats_per_bar": 4,
            "notes": notes,
        }
        if spelled:
            score["fifths"] = self.fifths
        return score


def key_alters(fifths: int) -> list[int]:
    alters = [0] * 7
    order = SHARPS if fifths > 0 else tuple(reversed(SHARPS))
    for letter in order[: abs(fifths)]:
        alters[letter] = 1 if fifths > 0 else -1
    return alters


def read(line: Line, *, fifths: int | None = None, carried: bool = True, over: bool = False) -> list[int]:
    """Sounding pitches when the printed line is read with another key or another rule for signs."""
    key, force, out = key_alters(line.fifths if fifths is None else fifths), {}, []
    for note in line.notes:
        place, alter = (note.letter, note.octave), key[note.letter]
        if note.sign is not None:
            alter = note.sign
            force[place] = (note.sign, note.bar)
        elif carried and place in force:
            kept, since = force[place]
            if since == note.bar or (over and note.bar - since == 1):
                alter = kept
        out.append(12 * (note.octave + 1) + NATURALS[note.letter] + alter + line.instrument.chromatic)
    return out


def make_line(rng: Random, *, instrument: Instrument, style: str | None = None) -> Line:
    style = style or rng.choice(("chromatic", "scale", "skips", "neighbours"))
    offset = {0: 0, -2: 2, -14: 2, -9: 3, -21: 3, -7: 1, 24: 0, 12: 0}[instrument.chromatic]
    fifths = rng.choice((-4, -3, -3, -2, -2, -2, -1, -1, 0, 1)) + offset
    fifths = max(-4, min(5, fifths))
    key, bars = key_alters(fifths), rng.choice((4, 4, 5, 6, 8))
    rhythm = rng.choice(("halves", "quarters", "quarters", "mixed"))
    low, high = instrument.low - instrument.chromatic, instrument.high - instrument.chromatic

    def midi(position: int, alter: int) -> int:
        return 12 * (position // 7 + 1) + NATURALS[position % 7] + alter

    places = [p for p in range(10, 70) if low <= midi(p, key[p % 7]) <= high]
    middle = rng.choice(places[len(places) // 4 : 3 * len(places) // 4])
    places = [p for p in places if abs(p - middle) <= 5]
    position, force, notes, direction = middle, {}, [], rng.choice((-1, 1))
    for bar in range(1, bars + 1):
        force = {}
        beats = {"halves": [2, 2], "quarters": [1, 1, 1, 1]}.get(rhythm) or rng.choice(
            ([2, 1, 1], [1, 1, 2], [1, 1, 1, 1], [2, 2], [3, 1])
        )
        if bar == bars:
            beats = [4] if rng.random() < 0.5 else [2, 2]
        start = 4.0 * (bar - 1)
        for value in beats:
            alter = force.get(position, key[position % 7])
            sign = None
            if rng.random() < {"chromatic": 0.35, "neighbours": 0.15}.get(style, 0.05):
                other = rng.choice(
                    [a for a in (-1, 0, 1) if a != alter and (a == 0 or a != -key[position % 7])]
                )
                if low <= midi(position, other) <= high:
                    alter = sign = other
                    force[position] = other
            notes.append(LineNote(position % 7, position // 7, alter, sign, bar, start, float(value)))
            start += value
            step = _step(rng, style, direction)
            if rng.random() < 0.06:
                step = 0
            if position + step not in places:
                direction = -direction
                step = -step
            position = position + step if position + step in places else position
    if rng.random() < 0.3 and len(notes) > 6:  # a rest somewhere inside
        del notes[rng.randrange(2, len(notes) - 2)]
        notes = _signs_again(notes, key)
    return Line(instrument, fifths, tuple(notes))


def _step(rng: Random, style: str, direction: int) -> int:
    """Staff steps to the next note."""
    if style == "scale":
        return direction
    if style == "chromatic":
        return rng.choice((0, 0, direction, direction, -direction))
    if style == "neighbours":
        return rng.choice((-1, 1, -1, 1, 0))
    return rng.choice((-2, 2, -3, 3, 1, -1, 4, -4))


def _signs_again(notes: list[LineNote], key: list[int]) -> list[LineNote]:
    """Print signs anew where the note that carried one was taken out."""
    force, bar, out = {}, 0, []
    for note in notes:
        if note.bar != bar:
            force, bar = {}, note.bar
        place = (note.letter, note.octave)
        due = force.get(place, key[note.letter])
        sign = note.alter if note.alter != due else None
        if sign is not None:
            force[place] = sign
        out.append(LineNote(note.letter, note.octave, note.alter, sign, note.bar, note.start, note.beats))
    return out
