"""The shelf as a drawing over an engraved line: trays, what was heard, the sound, the light on one note.

Every sign has a form of its own and stands in words beside the drawing. Note heads are never touched. No
style attributes: forms carry classes, places are SVG attributes.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from itertools import groupby
from typing import TYPE_CHECKING

from submissions.grading.shelf.notes import Shelf, ShelfNote, StruckNote
from submissions.grading.shelf.places import Moment, Tray, beat_at, moments, trays
from submissions.grading.timing import TimeMap
from submissions.listening.evidence import Verdict

if TYPE_CHECKING:
    from exercises.music.engraving import Engraving, SystemPlace

#: Height of a lane (one half step) and how many lie above and below the written one.
LANE, LANES = 8.0, 2
#: Rows from the music down: air, words over the trays, the lanes, the sound.
AIR, WORDS, SOUND = 3.0, 13.0, 17.0
#: Step and half height of the sound's strokes.
SOUND_STEP, SOUND_HALF = 3.0, 7.5
#: Room that a letter of a word over a tray takes; a word wider than its room is said shorter.
LETTER = 6.9
#: How far the light and the playing line reach above the staff.
ABOVE_STAFF = 8.0
SHORTER = {"not heard": "none", "unsure": "?", "late": "l.", "early": "e."}


@dataclass(frozen=True, slots=True)
class TakeSound:
    """The take's loudness from left to right, and when each written beat sounds in it."""

    peaks: Sequence[int]
    seconds: float
    times: TimeMap

    def loudness_at(self, beat: float) -> float:
        """0 to 1."""
        index = int(self.times.seconds_at(beat) / self.seconds * len(self.peaks))
        return self.peaks[index] / 100 if 0 <= index < len(self.peaks) else 0.0


def depth(*, shelf: bool, sound: bool) -> float:
    """Room needed under each system, in the engraving's pixels."""
    rows = WORDS + (2 * LANES + 1) * LANE if shelf else 0.0
    rows += SOUND if sound else 0.0
    return AIR + rows if rows else 0.0


def above(engraving: "Engraving") -> float:
    """Room needed above the music for the light and the playing line's cap."""
    first = engraving.systems[0]
    return max(0.0, ABOVE_STAFF + 7 - (first.top - first.ink_top))


def overlay(
    engraving: "Engraving",
    *,
    notes: Sequence[StruckNote],
    shelf: Shelf | None = None,
    sound: TakeSound | None = None,
    now: int | None = None,
    scale_words: bool = False,
) -> str:
    """Markup to lie over the engraving. `now` is the note in the light; `scale_words` names the lanes."""
    all_trays, beats = trays(engraving, notes), moments(engraving)
    parts: list[str] = []
    for system in engraving.systems:
        row = [tray for tray in all_trays if tray.system == system.index]
        if not row:
            continue
        drawing = _Row(engraving, system, row, shelf is not None, sound is not None)
        parts += drawing.light(now)
        if shelf is not None:
            parts += drawing.lanes(words=scale_words and system.index == 0)
            parts += drawing.bars(engraving)
            parts += drawing.evidence(shelf)
        if sound is not None:
            parts.append(drawing.sound(sound, beats))
        parts += drawing.hits(notes, shelf, sound)
    parts.append(_play_line(engraving, shelf, sound))
    return f'<g class="shelf"{_time_line(beats, sound)}>{"".join(parts)}</g>'


class _Row:
    """The shelf under one system."""

    def __init__(
        self, engraving: "Engraving", system: "SystemPlace", row: Sequence[Tray], shelf: bool, sound: bool
    ) -> None:
        self.system, self.trays = system, row
        self.top = system.ink_bottom + AIR + (WORDS if shelf else 0.0)
        self.written = self.top + LANES * LANE
        self.bottom = self.top + ((2 * LANES + 1) * LANE if shelf else 0.0)
        self.end = self.bottom + (SOUND if sound else 0.0)
        self.left = min(tray.left for tray in row) - 6
        self.right = max(bar.right for bar in engraving.bars if bar.system == system.index)

    def light(self, now: int | None) -> Iterator[str]:
        top = self.system.top - ABOVE_STAFF
        for tray in self.trays:
            if tray.number == now:
                yield (
                    f'<rect class="shelf__now" x="{tray.left - 5:.1f}" y="{top:.1f}" '
                    f'width="{tray.width + 9:.1f}" height="{self.end - top:.1f}"/>'
                )

    def lanes(self, *, words: bool) -> Iterator[str]:
        yield (
            f'<rect class="shelf__lane" x="{self.left:.1f}" y="{self.written:.1f}" '
            f'width="{self.right - self.left:.1f}" height="{LANE:g}"/>'
        )
        rules = "".join(
            f"M{self.left:.1f} {self.top + rule * LANE:.1f}H{self.right:.1f}" for rule in range(2 * LANES + 2)
        )
        yield f'<path class="shelf__rule" d="{rules}"/>'
        if words:
            for y, word in (
                (self.top + 8, "higher"),
                (self.written + 7.5, "written"),
                (self.bottom - 1, "lower"),
            ):
                yield (
                    f'<text class="shelf__scale" x="{self.left - 5:.1f}" y="{y:.1f}" '
                    f'text-anchor="end">{word}</text>'
                )

    def bars(self, engraving: "Engraving") -> Iterator[str]:
        lines = "".join(
            f"M{bar.right:.1f} {self.system.bottom:.1f}V{self.end:.1f}"
            for bar in engraving.bars
            if bar.system == self.system.index
        )
        yield f'<path class="shelf__bar" d="{lines}"/>'

    def evidence(self, shelf: Shelf) -> Iterator[str]:
        for tray in self.trays:
            yield from self._heard(shelf.notes[tray.number], tray)
        yield from self._words(shelf)

    def sound(self, sound: TakeSound, beats: Sequence[Moment]) -> str:
        middle, strokes, x = self.bottom + SOUND / 2 + 0.5, [], self.left
        while x <= self.right:
            beat = beat_at(beats, x, self.system.index)
            if beat is not None:
                half = max(0.5, SOUND_HALF * sound.loudness_at(beat))
                strokes.append(f"M{x:.0f} {middle - half:.1f}v{2 * half:.1f}")
            x += SOUND_STEP
        return f'<path class="shelf__sound" d="{"".join(strokes)}"/>'

    def hits(
        self, notes: Sequence[StruckNote], shelf: Shelf | None, sound: TakeSound | None
    ) -> Iterator[str]:
        """What a pointer can press: play from this note, or choose it."""
        top = self.system.top - ABOVE_STAFF
        for tray in self.trays:
            note = notes[tray.number]
            at = f' data-at="{_sounds_at(note, shelf, sound):.3f}"' if sound else ""
            yield (
                f'<rect class="shelf__hit" data-note="{tray.number}" data-bar="{note.bar}"{at} '
                f'x="{tray.left - 5:.1f}" y="{top:.1f}" width="{tray.width + 9:.1f}" '
                f'height="{self.end - top:.1f}"/>'
            )

    def _heard(self, note: ShelfNote, tray: Tray) -> Iterator[str]:
        nothing = note.verdict is Verdict.NOT_HEARD or (note.verdict is Verdict.UNSURE and note.steps is None)
        empty = " shelf__tray--empty" if note.verdict is Verdict.NOT_HEARD else ""
        yield self._box(f"shelf__tray{empty}", tray.left, tray.width, self.written)
        if note.ear is not None and note.heard not in {Verdict.NOT_HEARD, note.ear}:
            # the evidence stays to be seen behind the ear's word
            yield self._box("shelf__was", tray.left, tray.width, self._lane(note.steps or 0))
        if nothing:
            if note.verdict is Verdict.UNSURE:
                yield self._box("shelf__heard shelf__heard--unsure", tray.left, tray.width, self.written)
            return
        steps = 0 if note.verdict is Verdict.AS_WRITTEN else (note.steps or 0)
        y, shift = self._lane(steps), self._shift(note, tray)
        kind = {Verdict.OTHER_PITCH: " shelf__heard--off", Verdict.UNSURE: " shelf__heard--unsure"}.get(
            note.verdict, ""
        )
        left = tray.left + shift
        yield self._box(f"shelf__heard{kind}", left, max(7.0, tray.right - left), y)
        if steps:
            rim, lane = (y + LANE - 1, self.written + 1) if steps > 0 else (y + 1, self.written + LANE - 1)
            yield f'<path class="shelf__drop" d="M{tray.left + 2:.1f} {rim:.1f}V{lane:.1f}"/>'
        if shift:
            tip, back = left + (-3 if shift > 0 else 3), (-5 if shift > 0 else 5)
            yield (
                f'<path class="shelf__shift" d="M{tray.left:.1f} {self.written - 2:.1f}v{LANE + 4:g}'
                f'M{tray.left:.1f} {y + LANE / 2:.1f}H{tip:.1f}l{back} -4v8l{-back} -4"/>'
            )

    def _shift(self, note: ShelfNote, tray: Tray) -> float:
        """How far the bar stands off its tray, in pixels; at least so far that the arrow can be seen."""
        if not note.timing or not tray.begins:
            return 0.0
        share = min(abs(note.beats_off or 0) / float(note.written.beats), 0.9)
        return (
            max(13.0, share * tray.width)
            if note.timing == "late"
            else -max(11.0, min(share * tray.width, 15.0))
        )

    def _lane(self, steps: int) -> float:
        return self.written - max(-LANES, min(LANES, steps)) * LANE

    def _box(self, kind: str, left: float, width: float, lane: float) -> str:
        return (
            f'<rect class="{kind}" x="{left:.1f}" y="{lane + 1:.1f}" width="{width:.1f}" '
            f'height="{LANE - 2:g}" rx="1.5"/>'
        )

    def _words(self, shelf: Shelf) -> Iterator[str]:
        """One word over each run of notes that share it."""
        named = [(_word(shelf.notes[tray.number]), tray) for tray in self.trays if tray.begins]
        for word, run in groupby(named, key=lambda pair: pair[0]):
            if not word:
                continue
            over = [tray for _, tray in run]
            left, right = over[0].left, over[-1].right
            if len(word) * LETTER > right - left + 8:
                word = SHORTER.get(word, word)
            yield (
                f'<text x="{(left + right) / 2:.1f}" y="{self.top - 4:.1f}" '
                f'text-anchor="middle">{escape(word)}</text>'
            )


def _word(note: ShelfNote) -> str:
    if note.ear is not None:
        return "ear"
    if note.verdict is Verdict.NOT_HEARD:
        return "not heard"
    if note.verdict is Verdict.UNSURE:
        return "unsure"
    steps = f"{note.steps:+d}".replace("-", "−") if note.verdict is Verdict.OTHER_PITCH and note.steps else ""
    return f"{steps} {note.timing}".strip() or ("other" if note.verdict is Verdict.OTHER_PITCH else "")


def _sounds_at(note: StruckNote, shelf: Shelf | None, sound: TakeSound) -> float:
    onset = shelf.notes[note.number].onset_seconds if shelf else None
    return max(0.0, sound.times.seconds_at(float(note.start)) if onset is None else onset)


def _time_line(beats: Sequence[Moment], sound: TakeSound | None) -> str:
    """For the page's script: seconds, place and system of every written beat."""
    if sound is None:
        return ""
    points = ";".join(f"{sound.times.seconds_at(m.beat):.3f},{m.x:.1f},{m.system}" for m in beats)
    return f' data-times="{points}"'


def _play_line(engraving: "Engraving", shelf: Shelf | None, sound: TakeSound | None) -> str:
    """The line that moves while the take plays; the script draws it over the system that sounds."""
    if sound is None:
        return ""
    under = depth(shelf=shelf is not None, sound=True)
    reach = ";".join(f"{s.top - ABOVE_STAFF + 3:.1f},{s.ink_bottom + under:.1f}" for s in engraving.systems)
    return (
        f'<g class="shelf__head is-off" data-reach="{reach}">'
        '<path class="shelf__play"/><path class="shelf__cap" d="M-6 -10h12v6l-6 6l-6 -6z"/></g>'
    )
