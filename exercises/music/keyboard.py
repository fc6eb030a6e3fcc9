"""Where does each note lie on a keyboard? The line's picture, and one bar of a mallet instrument.

Naturals stand in the front row, the others behind in groups of two and three, so that half steps can be seen.
"""

from collections.abc import Iterator, Mapping
from html import escape

from exercises.music.part import Part
from exercises.music.pitch import Pitch
from exercises.music.voice import gettext as _

#: Semitones of the front row (C D E F G A B); the others stand behind.
_FRONT = (0, 2, 4, 5, 7, 9, 11)
_FRONT_WIDTH, _FRONT_HEIGHT = 30, 116
_BACK_WIDTH, _BACK_HEIGHT = 18, 70
#: Room above the keys for the arcs that show half steps.
_ARC_ROOM = 30

#: Ground of a used key where no stylesheet says otherwise: light, so that it can be told apart in print.
_USED = "#d9d9d9"

type Box = tuple[float, float, float, float]


def keyboard_svg(part: Part, *, label: str = "") -> str:
    """The keys that a pitched part uses, each with its letter name, and an arc over each half step of the
    line.

    `label` begins what a screen reader says; the notes and half steps follow. Empty for a drum part.
    """
    if not part.instrument.pitched:
        return ""
    names = _names(part)
    steps = _half_steps(part)
    low, high = min(names), max(names)
    first, last = _front_at_or_below(low - 1), _front_at_or_above(high + 1)
    words = _words(label, names, steps)
    width = (_front_place(last) - _front_place(first) + 1) * _FRONT_WIDTH
    drawn = "".join(
        [
            *(
                _key(midi, first, names.get(midi, ""), back=False)
                for midi in range(first, last + 1)
                if _is_front(midi)
            ),
            *(
                _key(midi, first, names.get(midi, ""), back=True)
                for midi in range(first, last + 1)
                if not _is_front(midi)
            ),
            *(_arc(a, b, first) for a, b in sorted(steps)),
        ]
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="keyboard" role="img" aria-label="{escape(words)}" '
        f'viewBox="-2 {-_ARC_ROOM - 2} {width + 4} {_FRONT_HEIGHT + _ARC_ROOM + 4}">'
        f"<title>{escape(words)}</title>"
        f'<g fill="white" stroke="currentColor" stroke-width="1.4">{drawn}</g></svg>'
    )


def bar_picture(midi: int, *, stick: str) -> tuple[Box, str]:
    """viewBox and drawing of the octave around one bar, the bar filled and the stick's letter on it."""
    first = midi - midi % 12
    drawn = "".join(
        _key(one, first, stick if one == midi else "", back=back)
        for back in (False, True)
        for one in range(first, first + 12)
        if _is_front(one) is not back
    )
    return (-2, -2, 7 * _FRONT_WIDTH + 4, _FRONT_HEIGHT + 4), drawn


def _names(part: Part) -> Mapping[int, str]:
    """Letter names by MIDI number; a key that is spelled in two ways has both."""
    names: dict[int, list[str]] = {}
    for note in part.line.notes:
        if note.pitch is not None:
            spelled = names.setdefault(note.pitch.midi, [])
            if note.pitch.printed_letter not in spelled:
                spelled.append(note.pitch.printed_letter)
    return {midi: " ".join(spelled) for midi, spelled in names.items()}


def _half_steps(part: Part) -> Mapping[tuple[int, int], tuple[str, str]]:
    """Neighbouring notes of the line a half step apart, low one first, with their spoken names."""
    found: dict[tuple[int, int], tuple[str, str]] = {}
    for before, after in _neighbours(part):
        low, high = sorted((before, after), key=lambda pitch: pitch.midi)
        if high.midi - low.midi == 1:
            found.setdefault((low.midi, high.midi), (low.spoken, high.spoken))
    return found


def _neighbours(part: Part) -> Iterator[tuple[Pitch, Pitch]]:
    before: Pitch | None = None
    for note in part.line.notes:
        if before is not None and note.pitch is not None:
            yield before, note.pitch
        before = note.pitch


def _words(label: str, names: Mapping[int, str], steps: Mapping[tuple[int, int], tuple[str, str]]) -> str:
    listed = ", ".join(names[midi] for midi in sorted(names))
    to = _("{low} to {high}")
    half = "; ".join(to.format(low=low, high=high) for _place, (low, high) in sorted(steps.items()))
    said = _("Keys from low to high: {keys}.").format(keys=listed)
    said += " " + (_("Half steps: {steps}.").format(steps=half) if half else _("No half steps."))
    return f"{label}. {said}" if label else said


def _is_front(midi: int) -> bool:
    return midi % 12 in _FRONT


def _front_at_or_below(midi: int) -> int:
    return midi if _is_front(midi) else midi - 1


def _front_at_or_above(midi: int) -> int:
    return midi if _is_front(midi) else midi + 1


def _front_place(midi: int) -> int:
    """Number of the front key at or below a MIDI number."""
    octave, step = divmod(_front_at_or_below(midi), 12)
    return 7 * octave + _FRONT.index(step)


def _middle(midi: int, first: int) -> float:
    """x of the middle of a key; a back key stands over the gap behind its lower neighbour."""
    place = _front_place(midi) - _front_place(first)
    return (place + (0.5 if _is_front(midi) else 1)) * _FRONT_WIDTH


def _key(midi: int, first: int, name: str, *, back: bool) -> str:
    width, height = (_BACK_WIDTH, _BACK_HEIGHT) if back else (_FRONT_WIDTH, _FRONT_HEIGHT)
    x = _middle(midi, first)
    kind = "keyboard__back" if back else "keyboard__front"
    state = f"{kind} is-down" if name else kind
    fill = f' fill="{_USED}"' if name else ""
    rect = (
        f'<rect class="{state}"{fill} x="{x - width / 2:g}" y="0" width="{width}" height="{height}" rx="2"/>'
    )
    if not name:
        return rect
    lines = name.split(" ")
    size = 13 if back else 16
    text = "".join(
        f'<text x="{x:g}" y="{height - 10 - (size + 2) * row:g}" font-size="{size}" text-anchor="middle" '
        f'stroke="none" fill="currentColor">{escape(line)}</text>'
        for row, line in enumerate(reversed(lines))
    )
    return rect + text


def _arc(low: int, high: int, first: int) -> str:
    a, b = _middle(low, first), _middle(high, first)
    return f'<path class="keyboard__half" fill="none" d="M{a:g} -4Q{(a + b) / 2:g} {-_ARC_ROOM} {b:g} -4"/>'
