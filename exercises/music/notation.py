"""Our own way to type a line of notes as plain text.

    Bb4:2 A | G Ab | G:1 F#~ F# rest | Bb4:4

* A note is a letter, a sign if it has one (b or #), and the octave: Bb4, F#3, C5. C4 is middle C. The name
  means what it says: F is F natural in every key.
* Without an octave number the note nearest to the one before is meant (a fourth or less away).
* After a colon comes the length in beats (quarter notes): `:2` a half note, `:1` a quarter, `:4` a whole
  note, `:1.5` a dotted quarter, `:1/2` an eighth. Without it the length is that of the note before; the first
  is 1.
* `rest` (or `r`) is a rest; `~` after a note ties it to the next one.
* `|` (or `||`) ends a bar. The last bar may be closed or not. Line breaks mean nothing.
* `pickup` as the very first word says that the first bar is a short one before bar 1.
"""

import re
from collections.abc import Iterator
from fractions import Fraction

from exercises.music.errors import MusicError
from exercises.music.pitch import LETTERS, LOWEST_OCTAVE, Pitch
from exercises.music.score import MOST_BARS, NOTE_VALUES, Bar, Line, Metre, Note, bar_sum_text

LONGEST_TEXT = 10_000

_TOKEN = re.compile(r"\|+|[^\s|]+")
_NOTE = re.compile(
    r"(?P<letter>[A-Ga-g])(?P<sign>bb|b|##|#|♭♭|♭|♯♯|♯)?(?P<octave>\d)?(?P<rest>.*)", re.DOTALL
)
_REST = re.compile(r"(?:rest|r)(?=$|[:~])", re.IGNORECASE)
_LENGTH = re.compile(r":(\d{1,2}(?:\.\d{1,3})?|\d{1,2}/\d{1,2})")


def parse_notation(text: str, *, label: str, metre: Metre, fifths: int) -> Line:
    """The line that was typed. Raises MusicError with `.position` (offset in `text`) at the first fault."""
    if len(text) > LONGEST_TEXT:
        raise MusicError(
            "This text is too long for one line of an exercise.", line=label, position=LONGEST_TEXT
        )
    reader = _Reader(label, metre)
    tokens = list(_tokens(text))
    pickup = bool(tokens) and tokens[0][1].lower() == "pickup"
    reader.number = 0 if pickup else 1
    for position, token in tokens[1:] if pickup else tokens:
        if token.startswith("|"):
            reader.bar_line(position)
        else:
            reader.add(token, position)
    reader.close_bar(len(text))  # the last bar line may be missing
    line = Line(label, tuple(reader.bars), metre, fifths, pickup)
    try:
        line.validate()
    except MusicError as error:
        error.position = reader.position_of(error, line)
        raise
    return line


def format_notation(line: Line) -> str:
    """The line as text; `parse_notation` reads it back equal."""
    length: Fraction | None = Fraction(1)
    bars: list[str] = []
    for bar in line.bars:
        words: list[str] = []
        for note in bar:
            word = note.pitch.name if note.pitch else "rest"
            if note.beats != length:
                word += f":{note.beats if note.beats.denominator > 2 else _decimal(note.beats)}"
                length = note.beats
            words.append(word + ("~" if note.tied else ""))
        bars.append(" ".join(words))
    return ("pickup " if line.pickup else "") + " | ".join(bars)


def _decimal(beats: Fraction) -> str:
    return str(beats.numerator) if beats.denominator == 1 else f"{float(beats):g}"


def _tokens(text: str) -> Iterator[tuple[int, str]]:
    for found in _TOKEN.finditer(text):
        yield found.start(), found.group()


class _Reader:
    """Carries what a token leaves unsaid: the octave and the length of the note before."""

    def __init__(self, label: str, metre: Metre) -> None:
        self.label = label
        self.metre = metre
        self.number = 1
        self.bars: list[Bar] = []
        self.bar: list[Note] = []
        self.starts: list[int] = []
        self.bar_starts: dict[int, int] = {}
        self.before: Pitch | None = None
        self.length = Fraction(1)

    def fault(self, message: str, position: int) -> MusicError:
        return MusicError(message, line=self.label, bar=self.number, position=position)

    def bar_line(self, position: int) -> None:
        if self.bars and not self.bar:
            raise self.fault(
                f"Bar {self.number} is empty: write a rest in it, or take one bar line away.", position
            )
        self.close_bar(position)

    def close_bar(self, position: int) -> None:
        """A pickup and the bar that answers it may be short: `Line.validate` judges them."""
        if not self.bar:
            return
        total, full = sum((note.beats for note in self.bar), Fraction(0)), self.metre.quarters
        if total > full or (total < full and 0 not in self.bar_starts):
            raise self.fault(bar_sum_text(self.number, total, self.metre), self.bar_starts[self.number])
        self.bars.append(tuple(self.bar))
        self.bar = []
        self.number += 1
        if self.number > MOST_BARS + 1:
            raise self.fault(f"An exercise has at most {MOST_BARS} bars.", position)

    def add(self, token: str, position: int) -> None:
        self.bar_starts.setdefault(self.number, position)
        rest = _REST.match(token)
        if rest:
            pitch, tail, tail_at = None, token[rest.end() :], position + rest.end()
        else:
            pitch, tail, tail_at = self._pitch(token, position)
        tied = tail.endswith("~")
        self._length(tail.removesuffix("~"), tail_at)
        if tied and pitch is None:
            raise self.fault("A rest cannot be tied: take the ~ away.", tail_at + len(tail) - 1)
        self.bar.append(Note(pitch, self.length, tied))
        self.starts.append(position)
        self.before = pitch or self.before

    def _pitch(self, token: str, position: int) -> tuple[Pitch, str, int]:
        found = _NOTE.fullmatch(token)
        if found is None:
            raise self.fault(
                f"“{token}” is not a note: start with a letter from A to G, or write “rest”.", position
            )
        name = found["letter"].upper() + (found["sign"] or "")
        tail_at = position + found.start("rest")
        if found["octave"] is None:
            return self._nearest(name, position), found["rest"], tail_at
        pitch = Pitch.parse(name + found["octave"])
        return pitch, found["rest"], tail_at

    def _nearest(self, name: str, position: int) -> Pitch:
        if self.before is None:
            raise self.fault(f"Give the first note its octave number, for example {name}4.", position)
        steps = (LETTERS.index(name[0]) - LETTERS.index(self.before.letter) + 3) % 7 - 3
        octave = (self.before.height + steps) // 7
        if octave < LOWEST_OCTAVE or octave > 9:
            raise self.fault("This note is out of reach: give it an octave number.", position)
        return Pitch.parse(f"{name}{octave}")

    def _length(self, tail: str, position: int) -> None:
        if not tail:
            return
        found = _LENGTH.fullmatch(tail)
        if found is None:
            raise self.fault(
                f"“{tail}” is not understood here: a length is written like :2, a tie like ~.", position
            )
        try:
            self.length = Fraction(found[1])
        except ZeroDivisionError:
            self.length = Fraction(0)
        if self.length not in NOTE_VALUES:
            raise self.fault(
                f"“{tail}” cannot be printed as one note: use 4, 3, 2, 1.5, 1, 0.5 or 0.25, or tie notes.",
                position,
            )

    def position_of(self, error: MusicError, line: Line) -> int:
        """Where in the text a fault of the finished line stands."""
        for ref in line.refs():
            if (ref.bar, ref.beat) == (error.bar, error.beat):
                return self.starts[ref.index]
        return self.bar_starts.get(error.bar, 0) if error.bar is not None else 0
