"""The part as MusicXML 4.0: for the engraver, and as a file for other notation programs.

Everything written here is valid against the MusicXML 4.0 schema (proved in the tests). The tempo is written
as <sound> only: a printed metronome mark would need a font embedded in the picture.
"""

import re
from collections.abc import Mapping, Sequence
from fractions import Fraction
from html import escape

from exercises.music.errors import MusicError
from exercises.music.instruments import Clef, InstrumentFacts
from exercises.music.part import Part
from exercises.music.reading import NoteReading, read_part
from exercises.music.score import NOTE_VALUES, Bar, Metre, Note

#: MusicXML duration units in a quarter note: a dotted sixteenth (3/8) is the shortest length there is.
DIVISIONS = 8
PREFIX = re.compile(r"[A-Za-z][\w-]{0,60}", re.ASCII)

_HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n<score-partwise version="4.0">'
_CLEFS: Mapping[Clef, str] = {
    Clef.TREBLE: "<sign>G</sign><line>2</line>",
    Clef.BASS: "<sign>F</sign><line>4</line>",
    Clef.PERCUSSION: "<sign>percussion</sign>",
}


def part_to_musicxml(
    part: Part,
    *,
    prefix: str,
    tempo: int,
    courtesy: bool = True,
    bars_per_system: int | None = None,
) -> str:
    """One part of one line, bare: no title, no names, ids that begin with `prefix` ("p-n0" is the first note,
    "p-b0" the first bar). `bars_per_system` writes line breaks; `tempo` is in quarter notes a minute."""
    check_prefix(prefix)
    starts = system_starts(len(part.line.bars), bars_per_system) if bars_per_system else ()
    body = _LineWriter(part, tempo=tempo, courtesy=courtesy, prefix=prefix, system_starts=starts).measures(1)
    return (
        f'{_HEAD}<part-list><score-part id="{prefix}"><part-name/></score-part></part-list>'
        f'<part id="{prefix}">{body}</part></score-partwise>'
    )


def score_to_musicxml(
    instruments: Sequence[Sequence[Part]], *, title: str, tempos: Sequence[int], courtesy: bool = True
) -> str:
    """A file for other programs: for each instrument its lines one after another, with names and sounds.

    `instruments` holds one sequence of parts (line A, line B...) for each instrument, `tempos` one tempo a
    line.
    """
    listed: list[str] = []
    bodies: list[str] = []
    for number, parts in enumerate(instruments, 1):
        player, part_id = parts[0].instrument, f"P{number}"
        listed.append(_score_part(player, part_id, number))
        first_bar, written = 1, []
        for part, tempo in zip(parts, tempos, strict=True):
            writer = _LineWriter(part, tempo=tempo, courtesy=courtesy, heading=f"Line {part.line.label}")
            written.append(writer.measures(first_bar))
            first_bar += len(part.line.bars)
        bodies.append(f'<part id="{part_id}">{"".join(written)}</part>')
    return (
        f"{_HEAD}<work><work-title>{_text(title)}</work-title></work>"
        "<identification><encoding><software>Bandroom</software></encoding></identification>"
        f"<part-list>{''.join(listed)}</part-list>{''.join(bodies)}</score-partwise>"
    )


def check_prefix(prefix: str) -> None:
    """Ids on a page must not repeat and must be plain names."""
    if not PREFIX.fullmatch(prefix):
        raise MusicError(f"“{prefix}” cannot begin an id: use letters, digits and hyphens, a letter first.")


def system_starts(bar_count: int, bars_per_system: int) -> tuple[int, ...]:
    """Indexes of the bars that begin a system; systems as even as they can be, the fuller ones first."""
    systems = -(-bar_count // bars_per_system)
    short, longer = divmod(bar_count, systems)
    starts = [0]
    for number in range(systems - 1):
        starts.append(starts[-1] + short + (number < longer))
    return tuple(starts)


def _text(text: str) -> str:
    """Escaped, without the control characters that XML forbids."""
    return escape(re.sub(r"[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]", "", text))


def _score_part(player: InstrumentFacts, part_id: str, number: int) -> str:
    channel = number if number < 10 else number % 16 + 1 if number % 16 + 1 != 10 else 11
    if player.midi_drum is not None:
        midi = f"<midi-channel>10</midi-channel><midi-unpitched>{player.midi_drum + 1}</midi-unpitched>"
    else:
        program = (player.midi_program or 0) + 1
        midi = f"<midi-channel>{channel}</midi-channel><midi-program>{program}</midi-program>"
    return (
        f'<score-part id="{part_id}"><part-name>{_text(player.name)}</part-name>'
        f'<score-instrument id="{part_id}-I1"><instrument-name>{_text(player.name)}</instrument-name>'
        f"<instrument-sound>{player.musicxml_sound}</instrument-sound></score-instrument>"
        f'<midi-instrument id="{part_id}-I1">{midi}</midi-instrument></score-part>'
    )


class _LineWriter:
    """Writes the measures of one line of one part."""

    def __init__(
        self,
        part: Part,
        *,
        tempo: int,
        courtesy: bool,
        prefix: str | None = None,
        system_starts: Sequence[int] = (),
        heading: str | None = None,
    ) -> None:
        self.part = part
        self.line = part.line
        self.tempo = tempo
        self.prefix = prefix
        self.system_starts = frozenset(system_starts)
        self.heading = heading
        self.readings = read_part(part, courtesy=courtesy)
        self.tied_in = part.line.tied_in()

    def measures(self, first_number: int) -> str:
        """All bars; numbers go on from `first_number` (a pickup bar has the number before)."""
        written: list[str] = []
        index = 0
        number = first_number - 1 if self.line.pickup else first_number
        for place, bar in enumerate(self.line.bars):
            written.append(self._measure(place, number + place, bar, index))
            index += len(bar)
        return "\n".join(written)

    def _measure(self, place: int, number: int, bar: Bar, index: int) -> str:
        ident = f' id="{self.prefix}-b{place}"' if self.prefix else ""
        implicit = ' implicit="yes"' if self.line.pickup and place == 0 else ""
        words = [f'<measure number="{number}"{implicit}{ident}>']
        if place in self.system_starts:
            words.append('<print new-system="yes"/>')
        if place == 0:
            words.append(self._opening())
        beams = beams_of(bar, self.line.metre)
        words.extend(
            self._note(note, index + offset, beams[offset], whole_bar=len(bar) == 1)
            for offset, note in enumerate(bar)
        )
        if place == len(self.line.bars) - 1:
            words.append('<barline location="right"><bar-style>light-heavy</bar-style></barline>')
        return "".join(words) + "</measure>"

    def _opening(self) -> str:
        reader, metre, transpose = (
            self.part.instrument,
            self.line.metre,
            self.part.instrument.musicxml_transpose,
        )
        words = [
            f"<attributes><divisions>{DIVISIONS}</divisions><key><fifths>{self.line.fifths}</fifths></key>"
            f"<time><beats>{metre.beats}</beats><beat-type>{metre.unit}</beat-type></time>"
            f"<clef>{_CLEFS[reader.clef]}</clef>"
        ]
        if transpose.chromatic or transpose.octave_change:
            octaves = transpose.octave_change
            words.append(
                f"<transpose><diatonic>{transpose.diatonic}</diatonic><chromatic>{transpose.chromatic}</chromatic>"
                + (f"<octave-change>{octaves}</octave-change>" if octaves else "")
                + "</transpose>"
            )
        words.append("</attributes>")
        if self.heading:
            words.append(
                f'<direction placement="above"><direction-type><words>{_text(self.heading)}</words>'
                "</direction-type></direction>"
            )
        words.append(f'<sound tempo="{self.tempo}"/>')
        return "".join(words)

    def _note(self, note: Note, index: int, beams: Sequence[str], *, whole_bar: bool) -> str:
        kind, dots = NOTE_VALUES[note.beats]
        stop, start = self.tied_in[index], note.tied
        ident = f' id="{self.prefix}-n{index}"' if self.prefix else ""
        ties = ('<tie type="stop"/>' if stop else "") + ('<tie type="start"/>' if start else "")
        length = f"<duration>{int(note.beats * DIVISIONS)}</duration>"
        return (
            f"<note{ident}>{self._head(note, whole_bar)}{length}{ties}"
            f"<voice>1</voice><type>{kind}</type>{'<dot/>' * dots}{_accidental(self.readings[index])}"
            + "".join(f'<beam number="{level}">{step}</beam>' for level, step in enumerate(beams, 1))
            + (f"<notations>{ties.replace('<tie ', '<tied ')}</notations>" if ties else "")
            + "</note>"
        )

    def _head(self, note: Note, whole_bar: bool) -> str:
        pitch = note.pitch
        if pitch is None:
            return '<rest measure="yes"/>' if whole_bar else "<rest/>"
        if not self.part.instrument.pitched:
            return (
                f"<unpitched><display-step>{pitch.letter}</display-step>"
                f"<display-octave>{pitch.octave}</display-octave></unpitched>"
            )
        alter = f"<alter>{pitch.alter}</alter>" if pitch.alter else ""
        return f"<pitch><step>{pitch.letter}</step>{alter}<octave>{pitch.octave}</octave></pitch>"


def _accidental(reading: NoteReading) -> str:
    if reading.accidental is None:
        return ""
    reminder = ' cautionary="yes" parentheses="yes"' if reading.courtesy else ""
    return f"<accidental{reminder}>{reading.accidental}</accidental>"


def beams_of(bar: Bar, metre: Metre) -> tuple[tuple[str, ...], ...]:
    """For each note the MusicXML beam words by level: eighths and sixteenths beamed inside one beat."""
    beat = Fraction(3, 2) if metre.unit == 8 and metre.beats % 3 == 0 else Fraction(1)
    groups: list[list[int]] = []
    start, last_beat = Fraction(0), None
    for place, note in enumerate(bar):
        this_beat = start // beat
        if note.pitch is not None and note.beats < 1:
            if groups and last_beat == this_beat and groups[-1][-1] == place - 1:
                groups[-1].append(place)
            else:
                groups.append([place])
            last_beat = this_beat
        start += note.beats
    levels = [0 if note.beats >= 1 else 1 if NOTE_VALUES[note.beats][0] == "eighth" else 2 for note in bar]
    beams: list[tuple[str, ...]] = [()] * len(bar)
    for group in groups:
        if len(group) > 1:
            for place in group:
                beams[place] = _beam_words(group, place, levels)
    return tuple(beams)


def _beam_words(group: Sequence[int], place: int, levels: Sequence[int]) -> tuple[str, ...]:
    first, last = place == group[0], place == group[-1]
    words = ["begin" if first else "end" if last else "continue"]
    if levels[place] == 2:
        before = not first and levels[place - 1] == 2
        after = not last and levels[place + 1] == 2
        alone = "forward hook" if first else "backward hook"
        words.append("continue" if before and after else "end" if before else "begin" if after else alone)
    return tuple(words)
