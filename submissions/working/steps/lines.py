"""One line as a step shows it: drawn for phone and desk, with what a script needs to play and to answer."""

from collections.abc import Callable, Collection
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from bandroom.people.instruments import Instrument
from exercises.drawing.lines import spoken_line
from exercises.drawing.name_rows import ROWS_ROOM, names_overlay
from exercises.drawing.reading_aids import reading_aids
from exercises.drawing.two_screens import Screen, engraved_twice
from exercises.models import ExerciseLine
from exercises.music.counting import TEMPOS, Count, count_off, names_in_rhythm
from exercises.music.engraving import Engraving, line_svg
from exercises.music.keyboard import keyboard_svg
from exercises.music.part import Part
from exercises.music.pitch import Pitch
from exercises.music.playback import playback
from exercises.music.reading import NoteReading, Reason
from exercises.music.score import count_text
from exercises.pages.fingerings import NoteFingering, note_fingerings
from exercises.pages.reading_guide import place_words
from exercises.parts import Layout, part_of, readings_of
from submissions.models import Assignment
from submissions.working.steps.overlays import note_highlights, tap_targets

TARGETS_ROOM = 42
SIGNS = {-2: "𝄫", -1: "♭", 0: "♮", 1: "♯", 2: "𝄪"}


@dataclass(frozen=True, slots=True)
class StepLine:
    """A line on a step's page. `data` is for the page's script."""

    label: str
    caption: str
    tempo: int
    tempos: tuple[int, ...]
    bars: tuple[int, ...]
    wide: SafeString
    narrow: SafeString
    data: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Answer:
    """What the engine says of one note that was tapped, shown or left: "Bar 2, beat 3", "F sharp", why."""

    index: int
    place: str
    name: str
    words: str


@dataclass(frozen=True, slots=True)
class Box:
    """One note to tick, for who has no script."""

    index: int
    beat: str
    letter: str
    ticked: bool


@dataclass(frozen=True, slots=True)
class SignsLine:
    """The altered notes of a line, and what the student found of them."""

    line: StepLine
    right: tuple[Answer, ...]
    extra: tuple[Answer, ...]
    shown: tuple[Answer, ...]
    left: int
    altered: int
    boxes: tuple[tuple[int, tuple[Box, ...]], ...]

    @property
    def found(self) -> int:
        return len(self.right)


def playing_line(
    *, line: ExerciseLine, assignment: Assignment, instrument: str, names: bool = False, counted: bool = False
) -> StepLine:
    """To say, to finger or to play along. Raises MusicError."""
    part = part_of(line=line, instrument=instrument)
    names = names and part.instrument.pitched

    def overlay(engraving: Engraving) -> str:
        rows = names_overlay(engraving, part, names=names, counted=counted) if counted else ""
        return note_highlights(engraving, rows=counted) + rows

    return _step_line(line, assignment, part, overlay, room=ROWS_ROOM if counted else 12, data=_beats(part))


def signs_line(
    *,
    line: ExerciseLine,
    assignment: Assignment,
    instrument: str,
    tapped: Collection[int],
    shown: Collection[int],
) -> SignsLine:
    """The line with its rail of targets to tap. Raises MusicError."""
    part = part_of(line=line, instrument=instrument)
    readings = [each for each in readings_of(part, line=line) if each.reason is not Reason.REST]
    pressed = {
        each.ref.index: sign_of(part, each.ref.index)
        for each in readings
        if each.altered and (each.ref.index in tapped or each.ref.index in shown)
    }
    drawn = _step_line(
        line,
        assignment,
        part,
        lambda engraving: (
            tap_targets(engraving, metre=part.line.metre, pressed=pressed)
            + reading_aids(engraving, part, readings)
        ),
        room=TARGETS_ROOM,
        data={"notes": {each.ref.index: _told(part, each) for each in readings}},
        role="group",
    )
    wanted = [each for each in readings if each.altered and each.reason is not Reason.TIE]
    return SignsLine(
        line=drawn,
        right=_answers(part, [each for each in readings if each.altered and each.ref.index in tapped]),
        extra=_answers(part, [each for each in readings if not each.altered and each.ref.index in tapped]),
        shown=_answers(part, [each for each in wanted if each.ref.index in shown]),
        left=sum(each.ref.index not in tapped and each.ref.index not in shown for each in wanted),
        altered=len(wanted),
        boxes=_boxes(part, {*tapped}),
    )


def fingered(*, line: ExerciseLine, instrument: str) -> tuple[NoteFingering, ...]:
    """What a director has said yes to, and what is computed; nothing else. Raises MusicError."""
    return note_fingerings(line=line, instrument=instrument, confirmed_only=True)


def keyboard(*, line: ExerciseLine, instrument: str) -> SafeString:
    """Where the notes lie on bells and xylophone."""
    part = part_of(line=line, instrument=instrument)
    label = _("Line {line}").format(line=part.line.label)
    return mark_safe(keyboard_svg(part, label=label))  # noqa: S308 - the engine escapes


def sign_of(part: Part, index: int) -> str:
    pitch = part.line.notes[index].pitch
    return SIGNS[pitch.alter] if pitch else ""


def answer_of(part: Part, reading: NoteReading) -> Answer:
    pitch = part.line.notes[reading.ref.index].pitch
    return Answer(
        index=reading.ref.index,
        place=place_words(part, reading.ref).capitalize(),
        name=_named(pitch, altered=reading.altered),
        words=reading.words,
    )


def _named(pitch: Pitch | None, *, altered: bool) -> str:
    """ "F natural" where that is news, else "F"."""
    if pitch is None:
        return ""
    return pitch.spoken_in_full if altered else pitch.spoken


def _answers(part: Part, readings: Collection[NoteReading]) -> tuple[Answer, ...]:
    return tuple(answer_of(part, each) for each in readings)


def _told(part: Part, reading: NoteReading) -> dict[str, Any]:
    """For the page's script, so that an answer comes at once and without a network."""
    answer = answer_of(part, reading)
    return {
        "place": answer.place,
        "name": answer.name,
        "words": answer.words,
        "sign": sign_of(part, reading.ref.index) if reading.altered else "",
        "altered": reading.altered,
        "tie": reading.reason is Reason.TIE,
    }


def _boxes(part: Part, ticked: Collection[int]) -> tuple[tuple[int, tuple[Box, ...]], ...]:
    bars: dict[int, list[Box]] = {}
    for note, ref in zip(part.line.notes, part.line.refs(), strict=True):
        if note.pitch is not None:
            beat = count_text(ref.beat, part.line.metre)
            bars.setdefault(ref.bar, []).append(Box(ref.index, beat, note.pitch.letter, ref.index in ticked))
    return tuple((bar, tuple(boxes)) for bar, boxes in bars.items())


def _beats(part: Part) -> dict[str, Any]:
    """Everything that is heard and lit, in quarter notes from the first note."""
    heard = playback(part)
    metre = part.line.metre
    refs = part.line.refs()
    return {
        "metre": {"counts": int(metre.quarters / metre.count_unit), "unit": float(metre.count_unit)},
        # before the first note, and before a bar inside the line, where no pickup is led into
        "countOff": _counted(count_off(metre, lead_in=Fraction(heard.lead_in))),
        "countOffInside": _counted(count_off(metre)),
        "playback": heard.to_json(),
        "names": {said.note: [said.printed, said.said] for said in names_in_rhythm(part)},
        "places": [place_words(part, ref) for ref in refs],
    }


def _counted(counts: tuple[Count, ...]) -> list[dict[str, Any]]:
    return [
        {"label": each.label, "start": float(each.start), "accent": each.accent, "breathe": each.breathe}
        for each in counts
    ]


def _step_line(
    line: ExerciseLine,
    assignment: Assignment,
    part: Part,
    overlay: Callable[[Engraving], str],
    *,
    room: float,
    data: dict[str, Any],
    role: str = "img",
) -> StepLine:
    if role == "group":
        label, notes = _("Line {line} for {instrument}. Each note is a button."), ""
    else:
        label, notes = _("Line {line} for {instrument}: {notes}"), spoken_line(part)
    instrument = Instrument(part.instrument_id).local_name
    label = label.format(line=line.label, instrument=instrument, notes=notes)

    def draw(engraving: Engraving, screen: Screen) -> str:
        return line_svg(
            engraving,
            overlay=overlay(engraving),
            label=label,
            css_class=screen.css_class,
            role=role,
            pad_top=14,
            pad_bottom=room,
        )

    engraved = engraved_twice(
        line=line, instrument=part.instrument_id, layout=Layout.READING, prefix=f"s{line.label}"
    )
    drawings = engraved.drawn(draw)
    tempo = assignment.tempo_of(line.label, line.tempo_bpm)
    return StepLine(
        label=line.label,
        caption=line.caption,
        tempo=tempo,
        tempos=tuple(sorted({*TEMPOS, tempo})),
        bars=tuple(number for number, _bar in part.line.numbered_bars()),
        wide=drawings.wide,
        narrow=drawings.narrow,
        data={"label": line.label, "tempo": tempo} | data,
    )
