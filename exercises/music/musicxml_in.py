"""A MusicXML file (.musicxml, .xml, .mxl) as exercise lines.

Read element by element, because only so nothing is lost silently.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from lxml import etree

from exercises.music.errors import MusicError
from exercises.music.incoming import (
    FoundNote,
    LineCollector,
    ProblemKind,
    ReadResult,
    check_length,
    finish_lines,
)
from exercises.music.musicxml_file import BROKEN, measures_of_parts
from exercises.music.pitch import Interval, Pitch
from exercises.music.score import FOUR_FOUR, Metre

#: Notes of a bar may be spread over voices and chords; more than this is no music for a band.
MOST_VOICES = 8
#: Finest share of a quarter note told apart; programs round the lengths of tuplets.
FINEST_LENGTH = 960

_NUMBER = re.compile(r"[-+]?\d{1,7}(\.\d{1,9})?", re.ASCII)
_BEAT_UNITS = {"whole": Fraction(4), "half": Fraction(2), "quarter": Fraction(1), "eighth": Fraction(1, 2)}
_MARKS = {
    "dynamics": "a dynamic",
    "articulations": "an articulation",
    "ornaments": "an ornament",
    "technical": "a playing mark",
    "fermata": "a fermata",
    "slur": "a slur",
    "glissando": "a glissando",
    "slide": "a slide",
    "arpeggiate": "an arpeggio",
    "wedge": "a crescendo or diminuendo",
    "words": "a text",
    "rehearsal": "a rehearsal mark",
    "segno": "a segno",
    "coda": "a coda",
    "pedal": "a pedal mark",
    "octave-shift": "an octave sign",
}


def read_musicxml(data: bytes, *, written_for: str | None = None) -> ReadResult:
    """The lines of a file, one for each part, in concert pitch.

    written_for  the instrument whose part this is; None if the notes are concert pitch. A part that says how
                 it transposes is then brought to concert pitch by what it says.
    Raises MusicError for a file that cannot be read at all or whose metre changes on the way.
    """
    parts = measures_of_parts(data)
    readers = [_PartReader() for _ in parts]
    for reader, measures in zip(readers, parts, strict=True):
        reader.read(measures)
    return finish_lines(
        [reader.finished() for reader in readers],
        tempo=next((reader.tempo for reader in readers if reader.tempo), None),
        written_for=written_for,
    )


@dataclass(slots=True)
class _Draft:
    """Notes of one bar that belong to the voice that is kept, and the beat reached."""

    notes: list[FoundNote] = field(default_factory=list)
    beat: Fraction = Fraction(1)


class _PartReader:
    """Reads the measures of one part."""

    def __init__(self) -> None:
        self.collector: LineCollector | None = None
        self.divisions = Fraction(1)
        self.metre: Metre | None = None
        self.fifths: int | None = None
        self.interval: Interval | None = None
        self.tempo: int | None = None
        self.voice: str | None = None
        self.pending: list[tuple[ProblemKind, str]] = []

    def finished(self) -> LineCollector:
        collector = self.collector or LineCollector(FOUR_FOUR, 0)
        collector.to_concert = self.interval
        return collector

    def read(self, measures: list[etree._Element]) -> None:
        check_length(bars=len(measures) - 1)
        for measure in measures:
            check_length(notes=len(measure.findall("note")) // MOST_VOICES)
            for attributes in measure.findall("attributes"):
                self._attributes(attributes)
            if self.collector is None:
                self.collector = LineCollector(self.metre or FOUR_FOUR, self.fifths or 0)
            self._measure(measure)

    def _attributes(self, element: etree._Element) -> None:
        divisions = element.findtext("divisions")
        if divisions is not None:
            self.divisions = _positive(divisions)
        for key in element.findall("key"):
            self._key(key)
        for time in element.findall("time"):
            self._time(time)
        transpose = element.find("transpose")
        if transpose is not None:
            self.interval = _interval(transpose)
        staves = element.findtext("staves")
        if staves is not None and staves.strip() not in ("", "1"):
            self._later(ProblemKind.STAVES, "this part has several staves; only the first is read.")

    def _key(self, key: etree._Element) -> None:
        fifths_text = key.findtext("fifths")
        if fifths_text is None:
            self._later(ProblemKind.KEY_CHANGE, "a key of its own kind; its signs are printed at the notes.")
            return
        fifths = _whole(fifths_text)
        if self.fifths is None or self.collector is None:
            self.fifths = fifths
        elif fifths != self.collector.fifths:
            self._later(
                ProblemKind.KEY_CHANGE,
                "the key changes. The line keeps its first key and the notes get signs.",
            )

    def _time(self, time: etree._Element) -> None:
        beats, unit = time.findtext("beats"), time.findtext("beat-type")
        if beats is None or unit is None:
            raise MusicError("This music has no metre: write one metre for the whole line.")
        metre = Metre.parse(f"{beats}/{unit}")
        if self.collector is not None and metre != self.collector.metre:
            number = self.collector.next_number
            raise MusicError(
                f"The metre changes to {metre} in bar {number}: keep one metre for the whole line.",
                bar=number,
            )
        self.metre = metre

    def _later(self, kind: ProblemKind, text: str) -> None:
        """A problem found in the attributes of the bar that is about to be read."""
        self.pending.append((kind, text))

    def _measure(self, measure: etree._Element) -> None:
        line = self._line()
        for kind, text in self.pending:
            line.report(kind, text)
        self.pending = []
        draft = _Draft()
        at = Fraction(1)  # place in the bar as the file counts, other voices included
        other_voice: Fraction | None = None
        for element in measure:
            match element.tag:
                case "note":
                    beats = self._beats(element)
                    if self._is_other_voice(element):
                        other_voice = at if other_voice is None else other_voice
                    else:
                        if at > draft.beat and element.find("chord") is None:
                            draft.notes.append(FoundNote(None, at - draft.beat))  # a place that was skipped
                            draft.beat = at
                        self._note(element, beats, draft)
                    if element.find("chord") is None and element.find("grace") is None:
                        at += beats
                case "backup":
                    at -= self._beats(element)
                case "forward":
                    at += self._beats(element)
                case "direction":
                    self._direction(element, at)
                case "sound":
                    self._sound(element)
                case "barline":
                    self._barline(element)
                case "harmony" | "figured-bass":
                    line.report_mark(ProblemKind.MARKS, "a chord symbol", beat=at)
                case _:
                    pass  # page layout, printing and listening hints carry no music
        if other_voice is not None:
            line.report(
                ProblemKind.VOICES, "a second voice or staff. Only the first is kept.", beat=other_voice
            )
        line.add_bar(draft.notes)

    def _line(self) -> LineCollector:
        assert self.collector is not None  # noqa: S101 - made before the first measure is read
        return self.collector

    def _is_other_voice(self, note: etree._Element) -> bool:
        voice = f"{note.findtext('staff') or '1'}/{note.findtext('voice') or '1'}"
        if self.voice is None:
            self.voice = voice
        return voice != self.voice

    def _beats(self, element: etree._Element) -> Fraction:
        text = element.findtext("duration")
        if text is None:
            return Fraction(0)
        return (_positive(text) / self.divisions).limit_denominator(FINEST_LENGTH)

    def _note(self, element: etree._Element, beats: Fraction, draft: _Draft) -> None:
        line, beat = self._line(), draft.beat
        if element.find("grace") is not None:
            line.report_mark(ProblemKind.GRACE, "a grace note", beat=beat)
            return
        if element.find("cue") is not None:
            line.report_mark(ProblemKind.VOICES, "a cue note", beat=beat)
            pitch = None
        else:
            pitch = self._pitch(element, beat)
        if element.find("chord") is not None:
            self._chord(pitch, draft)
            return
        if element.find("lyric") is not None:
            line.report_mark(ProblemKind.LYRICS, "a syllable of lyrics", beat=beat)
        self._notations(element, beat)
        draft.notes.append(
            FoundNote(
                pitch=pitch,
                beats=beats,
                tied=any(tie.get("type") == "start" for tie in _ties(element)),
                fits=element.find("time-modification") is None,
            )
        )
        draft.beat += beats

    def _chord(self, pitch: Pitch | None, draft: _Draft) -> None:
        """Of a chord the highest note is kept."""
        if not draft.notes:
            return
        kept = draft.notes[-1]
        if pitch is not None and (kept.pitch is None or pitch.midi > kept.pitch.midi):
            kept.pitch = pitch
        self._line().report_mark(
            ProblemKind.CHORD, "a note under the highest of a chord", beat=draft.beat - kept.beats
        )

    def _pitch(self, note: etree._Element, beat: Fraction) -> Pitch | None:
        element = note.find("pitch")
        if element is None:
            if note.find("unpitched") is not None:
                self._line().report_mark(ProblemKind.PERCUSSION, "a drum stroke", beat=beat)
            return None
        step, octave = element.findtext("step") or "", element.findtext("octave") or ""
        alter = _number(element.findtext("alter") or "0")
        if alter.denominator != 1:
            self._line().report_mark(ProblemKind.MICROTONE, "the quarter tone of a note", beat=beat)
        whole = int(alter)
        if (
            step.strip() not in tuple("CDEFGAB")
            or octave.strip() not in tuple("0123456789")
            or abs(whole) > 2
        ):
            raise MusicError(BROKEN)
        return Pitch(step.strip(), whole, int(octave))

    def _notations(self, note: etree._Element, beat: Fraction) -> None:
        for notations in note.findall("notations"):
            for mark in notations:
                if mark.tag in _MARKS and mark.get("type") != "stop":
                    self._line().report_mark(ProblemKind.MARKS, _MARKS[mark.tag], beat=beat)

    def _direction(self, direction: etree._Element, at: Fraction) -> None:
        for sound in direction.findall("sound"):
            self._sound(sound)
        for mark in (child for kind in direction.findall("direction-type") for child in kind):
            if mark.tag == "metronome":
                self._metronome(mark)
            elif mark.tag in _MARKS and mark.get("type") != "stop":
                self._line().report_mark(ProblemKind.MARKS, _MARKS[mark.tag], beat=at)

    def _sound(self, sound: etree._Element) -> None:
        if sound.get("tempo") and self.tempo is None:
            self.tempo = round(_number(sound.get("tempo") or "0"))

    def _metronome(self, mark: etree._Element) -> None:
        per_minute = (mark.findtext("per-minute") or "").strip()
        if self.tempo is None and _NUMBER.fullmatch(per_minute):
            unit = _BEAT_UNITS.get(mark.findtext("beat-unit") or "", Fraction(1))
            dotted = Fraction(3, 2) if mark.find("beat-unit-dot") is not None else 1
            self.tempo = round(Fraction(per_minute) * unit * dotted)

    def _barline(self, barline: etree._Element) -> None:
        if barline.find("repeat") is not None or barline.find("ending") is not None:
            self._line().report_mark(ProblemKind.REPEAT, "a repeat or ending sign")


def _ties(note: etree._Element) -> Iterator[etree._Element]:
    yield from note.findall("tie")
    yield from note.findall("notations/tied")


def _interval(transpose: etree._Element) -> Interval | None:
    """From written to sounding pitch, None when the part is at pitch."""
    chromatic = _whole(transpose.findtext("chromatic") or "0")
    octaves = _whole(transpose.findtext("octave-change") or "0")
    diatonic_text = transpose.findtext("diatonic")
    if diatonic_text is None:
        # Without letter steps the usual spelling of that many semitones is meant.
        sign = -1 if chromatic < 0 else 1
        diatonic = sign * (
            7 * (abs(chromatic) // 12) + (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)[abs(chromatic) % 12]
        )
    else:
        diatonic = _whole(diatonic_text)
    interval = Interval(diatonic + 7 * octaves, chromatic + 12 * octaves)
    return interval if interval != Interval(0, 0) else None


def _number(text: str) -> Fraction:
    if not _NUMBER.fullmatch(text.strip()):
        raise MusicError(BROKEN)
    return Fraction(text.strip())


def _positive(text: str) -> Fraction:
    number = _number(text)
    if number <= 0:
        raise MusicError(BROKEN)
    return number


def _whole(text: str) -> int:
    number = _number(text)
    if number.denominator != 1 or abs(number) > 100:
        raise MusicError(BROKEN)
    return int(number)
