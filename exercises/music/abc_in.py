"""A tune in ABC notation as exercise lines, through music21's tokens.

Two habits of that reader are overruled here. It does not carry a sign through the bar unless the file says
so: the ABC 2.1 standard says that a sign holds for its letter up to the bar line, in every octave. And it
passes over what it does not know: every character of the tune must belong to a token, or it is reported.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from music21 import abcFormat

from exercises.music.errors import MusicError
from exercises.music.incoming import (
    FoundNote,
    LineCollector,
    ProblemKind,
    ReadResult,
    check_length,
    check_size,
    finish_lines,
)
from exercises.music.keys import MOST_FIFTHS, key_alters
from exercises.music.pitch import Pitch
from exercises.music.score import FOUR_FOUR, Metre

_BROKEN = "This is not ABC notation that can be read: begin with X:1, then M:, L: and K:, then the notes."
_NOTE = re.compile(r"(?P<sign>\^\^|\^|__|_|=)?(?P<letter>[A-Ga-g])(?P<octave>[,']*)")
_FIELD = re.compile(r"[A-Za-z+]:")
_DIRECTIVE = re.compile(r"^(?:%%|I:)\s*propagate-accidentals\s+(\w+)", re.MULTILINE)
_CHORD_SYMBOL = re.compile(r'"[^"\n]*"')
_COMMENT = re.compile(r"%[^\n]*")
_DECORATION = re.compile(r"![^!\n]*!|\+[^+\n]*\+")
#: Bar lines that a token may spell otherwise than the text, and signs that only lay out the page.
_NO_MUSIC = str.maketrans(dict.fromkeys("|:[]\\`$", " "))
_SIGNS = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0}
#: Longest text of a tune; one exercise has a few lines.
LONGEST_TEXT = 20_000
_PLAIN_BARS = frozenset({"|", "||", "|]", "[|"})


def read_abc(data: bytes, *, written_for: str | None = None) -> ReadResult:
    """The lines of a tune, one for each voice, in concert pitch.

    written_for  the instrument whose part this is; None if the notes are concert pitch
    Raises MusicError for text that is no ABC tune or that changes its metre.
    """
    check_size(data)
    text = _decoded(data)
    handler = abcFormat.ABCHandler()
    try:
        handler.process(text)
    except Exception as error:
        raise MusicError(_BROKEN) from error
    reader = _TuneReader(text)
    reader.read(handler.tokens)
    return finish_lines(
        [voice.collector for voice in reader.voices.values() if voice.collector is not None],
        tempo=reader.tempo,
        written_for=written_for,
    )


def _decoded(data: bytes) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if len(text) > LONGEST_TEXT or "\x00" in text:
        raise MusicError(_BROKEN)
    if not re.search(r"^K:", text, re.MULTILINE):
        raise MusicError(_BROKEN)
    if len(re.findall(r"^X:", text, re.MULTILINE)) > 1:
        raise MusicError("This file holds several tunes: send one tune.")
    return text


@dataclass(slots=True)
class _Voice:
    """One voice as it is being read. `signs` and `letters` hold what the signs of this bar set."""

    collector: LineCollector | None = None
    notes: list[FoundNote] = field(default_factory=list)
    signs: dict[tuple[str, int], int] = field(default_factory=dict)
    letters: dict[str, int] = field(default_factory=dict)
    beat: Fraction = Fraction(1)

    def add(self, note: FoundNote) -> None:
        check_length(notes=len(self.notes))
        self.notes.append(note)
        self.beat += note.beats

    def close_bar(self) -> None:
        self.notes, self.beat = [], Fraction(1)


class _TuneReader:
    """Walks over the tokens of one tune."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.voices: dict[str, _Voice] = {}
        self.voice = self._voice("1")
        self.metre = FOUR_FOUR
        self.fifths = 0
        self.tempo: int | None = None
        self.in_grace = False
        self.in_tune = False
        directive = _DIRECTIVE.search(text)
        self.reach = directive[1] if directive and directive[1] in ("not", "octave") else "pitch"

    def _voice(self, name: str) -> _Voice:
        return self.voices.setdefault(name, _Voice())

    @property
    def line(self) -> LineCollector:
        if self.voice.collector is None:
            self.voice.collector = LineCollector(self.metre, self.fifths)
        return self.voice.collector

    def read(self, tokens: Sequence[Any]) -> None:
        position = 0
        for token in tokens:
            source = _CHORD_SYMBOL.sub("", str(token.src)).strip()
            at = self.text.find(source, position)
            if at >= 0:
                self._between(self.text[position:at])
                position = at + len(source)
            self._token(token, source)
        self._between(self.text[position:])
        for voice in self.voices.values():
            if voice.notes:
                self.voice = voice
                self.line.add_bar(voice.notes)

    def _token(self, token: Any, source: str) -> None:
        match token:
            case abcFormat.ABCMetadata():
                self._field(source)
            case abcFormat.ABCBar():
                self._bar(source)
            case abcFormat.ABCTuplet() | abcFormat.ABCBrokenRhythmMarker() | abcFormat.ABCTie():
                pass  # the tokens of the notes carry them
            case abcFormat.ABCParenStop():
                pass  # the end of a slur whose start was reported
            case abcFormat.ABCGraceStart():
                self.in_grace = True
                self.line.report_mark(ProblemKind.GRACE, "a grace note", beat=self.voice.beat)
            case abcFormat.ABCGraceStop():
                self.in_grace = False
            case abcFormat.ABCChord() if _FIELD.match(source[1:]):
                self._field(source[1:-1])
            case abcFormat.ABCNote():
                if not self.in_grace:
                    self._note(token, source)
            case _:
                what = "a slur" if isinstance(token, abcFormat.ABCSlurStart) else "a playing mark"
                self.line.report_mark(ProblemKind.MARKS, what, beat=self.voice.beat)

    def _between(self, text: str) -> None:
        """Text of the tune that no token holds."""
        if not self.in_tune:
            return
        text, symbols = _CHORD_SYMBOL.subn(" ", _COMMENT.sub(" ", text))
        text, decorations = _DECORATION.subn(" ", text)
        for _ in range(symbols):
            self.line.report_mark(ProblemKind.MARKS, "a chord symbol or text", beat=self.voice.beat)
        for _ in range(decorations):
            self.line.report_mark(ProblemKind.MARKS, "a decoration", beat=self.voice.beat)
        for word in text.translate(_NO_MUSIC).split():
            self.line.report(
                ProblemKind.MARKS, f"“{word}” is not read here and is left out.", beat=self.voice.beat
            )

    def _field(self, source: str) -> None:
        name, _, value = source.partition(":")
        value = value.partition("%")[0].strip()
        match name:
            case "K":
                self._key(value)
            case "M":
                self._metre(value)
            case "Q":
                self._tempo(value)
            case "V" if self.in_tune:
                self.voice = self._voice(value.split()[0] if value else "1")
            case "w":
                self.line.report_mark(ProblemKind.LYRICS, "a line of lyrics")
            case "L" if self.in_tune:
                raise MusicError("The unit length (L:) changes inside the tune: keep one for the whole tune.")
            case "U" | "m" | "P":
                if self.in_tune:
                    self.line.report_mark(ProblemKind.MARKS, f"a field {name}:")
            case _:
                pass  # titles, composers and remarks carry no music

    def _key(self, value: str) -> None:
        if re.search(r"[\^_=]", value):
            raise MusicError("The key (K:) has signs of its own: name it, like K:Bb, and sign the notes.")
        token = abcFormat.ABCMetadata(f"K:{value}")
        token.preParse()
        fifths = token.getKeySignatureParameters()[0] or 0
        if abs(fifths) > MOST_FIFTHS:
            raise MusicError(_BROKEN)
        if self.in_tune and fifths != self.fifths:
            text = "the key changes. The line keeps its first key and the notes get signs."
            self.line.report(ProblemKind.KEY_CHANGE, text, beat=self.voice.beat)
        self.fifths, self.in_tune = fifths, True

    def _metre(self, value: str) -> None:
        metre = Metre.parse({"C": "4/4", "C|": "2/2"}.get(value, value))
        if self.in_tune and metre != self.metre:
            raise MusicError(f"The metre changes to {metre}: keep one metre for the whole line.")
        self.metre = metre

    def _tempo(self, value: str) -> None:
        found = re.search(r"(?:(\d{1,2})/(\d{1,2})\s*=\s*)?(\d{1,3})(?!\S*/)", value)
        if found and self.tempo is None:
            unit = Fraction(4 * int(found[1]), int(found[2]) or 4) if found[1] else Fraction(1)
            self.tempo = round(int(found[3]) * unit)

    def _bar(self, source: str) -> None:
        if source not in _PLAIN_BARS:
            self.line.report_mark(ProblemKind.REPEAT, "a repeat or ending sign")
        if self.voice.notes:
            self.line.add_bar(self.voice.notes)
            self.voice.close_bar()
        self.voice.signs, self.voice.letters = {}, {}

    def _note(self, token: Any, source: str) -> None:
        beat = self.voice.beat
        length = Fraction(token.quarterLength).limit_denominator(192)
        if token.activeTuplet is not None:
            length *= Fraction(token.activeTuplet.tupletMultiplier())
        if isinstance(token, abcFormat.ABCChord):
            pitches = [self._pitch(found, beat) for found in _NOTE.finditer(source)]
            for _ in pitches[1:]:
                self.line.report_mark(ProblemKind.CHORD, "a note under the highest of a chord", beat=beat)
            pitch = max(pitches, key=lambda one: one.midi, default=None)
        elif token.isRest:
            pitch = None
        else:
            found = _NOTE.search(source)
            if found is None:
                raise MusicError(_BROKEN)
            if source[: found.start()]:
                self.line.report_mark(ProblemKind.MARKS, "an ornament", beat=beat)
            pitch = self._pitch(found, beat)
        self.voice.add(
            FoundNote(
                pitch=pitch,
                beats=length,
                tied=pitch is not None and token.tie in ("start", "continue"),
                fits=token.activeTuplet is None,
            )
        )

    def _pitch(self, found: re.Match[str], beat: Fraction) -> Pitch:
        letter = found["letter"].upper()
        marks = found["octave"]
        octave = (5 if found["letter"].islower() else 4) + marks.count("'") - marks.count(",")
        if not 0 <= octave <= 9:
            raise MusicError(_BROKEN)
        place = (letter, octave)
        if found["sign"]:
            self.voice.signs[place] = self.voice.letters[letter] = _SIGNS[found["sign"]]
            return Pitch(letter, _SIGNS[found["sign"]], octave)
        held = self._held(place)
        if held is not None:
            return held
        in_key = key_alters(self.fifths).get(letter, 0)
        printed = self.voice.signs.get(place, in_key)
        match self.reach:
            case "not":
                alter = in_key
            case "octave":
                alter = printed
            case _:
                alter = self.voice.letters.get(letter, in_key)
        pitch = Pitch(letter, alter, octave)
        if alter != printed:
            text = (
                f"a note that printed music would read as {Pitch(letter, printed, octave).spoken}; "
                f"by the rules of ABC it is {pitch.spoken}. Write its sign to be sure."
            )
            self.line.report(ProblemKind.SPELLING, text, beat=beat)
        return pitch

    def _held(self, place: tuple[str, int]) -> Pitch | None:
        """The pitch that a tie holds over into this place, also across the bar line."""
        notes = self.voice.notes
        before: Pitch | None = None
        if notes:
            before = notes[-1].pitch if notes[-1].tied else None
        elif self.voice.collector is not None and self.voice.collector.bars:
            last = self.voice.collector.bars[-1][-1]
            before = last.pitch if last.tied else None
        return before if before is not None and (before.letter, before.octave) == place else None
