"""How is a fingering drawn? Our own pictures: keys by hand and finger, valves, slide, mallet bars.

What is pressed is filled and has class `is-down`; what changes against the note before has a
ring (`fingers__move`). Colours are a stylesheet's matter; without one the attributes give black on white, for
paper. Each picture says its fingering in words, in `<title>` and `aria-label`.
"""

from collections.abc import Collection
from dataclasses import dataclass
from html import escape

from exercises.music.fingering_tables import FingeringKind, FingeringRow
from exercises.music.key_pictures import PICTURES, Form, Picture, Shape
from exercises.music.keyboard import bar_picture
from exercises.music.voice import gettext as _
from exercises.music.voice import pgettext

#: Round and square keys, in the picture's own units.
_ROUND, _SQUARE, _BAR_HEIGHT = 19, 36, 20
#: One valve takes this much of the picture; pressed caps sit lower.
_VALVE_STEP, _CAP_UP, _CAP_DOWN = 62, 14, 40
_SLIDE_FIRST, _SLIDE_STEP = 34, 40


@dataclass(frozen=True, slots=True)
class DiagramPlace:
    """Where a picture stands inside another drawing: middle and top in its units, and the width to fill."""

    middle: float
    top: float
    width: float


def diagram_svg(
    row: FingeringRow,
    *,
    name: str,
    moves: Collection[str] = (),
    place: DiagramPlace | None = None,
) -> str:
    """One fingering as an `<svg class="fingers">`.

    name   the note in words ("F sharp"), said before the fingering
    moves  keys that change against the note before, to be ringed
    place  for a picture inside another drawing; None for one that stands alone
    A row whose keys are not given is drawn with nothing pressed and says so.
    """
    pressed, ringed = frozenset(row.keys or ()), frozenset(moves)
    match row.kind:
        case FingeringKind.KEYS:
            picture = PICTURES[row.table]
            box, drawn = picture.box, _keys(picture, pressed, ringed)
        case FingeringKind.VALVES:
            box, drawn = _valves(row.table, pressed, ringed)
        case FingeringKind.SLIDE:
            box, drawn = _slide(row.keys or (), bool(ringed))
        case FingeringKind.MALLETS:
            box, drawn = bar_picture(row.midi, stick=_hand(row.choice))
        case FingeringKind.STICKS:
            box, drawn = (0, 0, 60, 60), _stick(_hand(row.choice))
    return _wrapped(box, drawn, f"{name}: {row.words}" if name else row.words, row.kind, place)


def _wrapped(
    box: tuple[float, float, float, float],
    drawn: str,
    words: str,
    kind: FingeringKind,
    place: DiagramPlace | None,
) -> str:
    size = ""
    if place is not None:
        height = place.width * box[3] / box[2]
        size = (
            f' x="{place.middle - place.width / 2:.6g}" y="{place.top:.6g}"'
            f' width="{place.width:.6g}" height="{height:.6g}"'
        )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="fingers fingers--{kind}" role="img" '
        f'aria-label="{escape(words)}" viewBox="{" ".join(f"{value:g}" for value in box)}"{size}>'
        f"<title>{escape(words)}</title>"
        f'<g fill="white" stroke="currentColor" stroke-width="1.6">{drawn}</g></svg>'
    )


def _keys(picture: Picture, pressed: frozenset[str], ringed: frozenset[str]) -> str:
    top, height = picture.box[1], picture.box[3]
    parts = [f'<path class="fingers__body" fill="none" d="M150 {top + 4:g}V{top + height - 4:g}"/>']
    shapes = [shape for shape in picture.shapes if _is_drawn(shape, pressed)]
    for shape in shapes:
        down = shape.key in pressed
        parts.append(_shape(shape, down))
        if not (shape.key == "LH1" and "Half" in pressed):
            parts.append(_label(shape, down))
    parts.extend(_ring(shape) for shape in shapes if shape.key in ringed)
    return "".join(parts)


def _is_drawn(shape: Shape, pressed: frozenset[str]) -> bool:
    """The half hole is the first finger's key, half covered: drawn over it when it is used."""
    return shape.form is not Form.HALF or shape.key in pressed


def _shape(shape: Shape, down: bool) -> str:
    state = ' class="is-down" fill="currentColor"' if down else ""
    x, y = shape.x, shape.y
    match shape.form:
        case Form.ROUND:
            return f'<circle{state} cx="{x:g}" cy="{y:g}" r="{_ROUND}"/>'
        case Form.DOT:
            return f'<circle{state} cx="{x:g}" cy="{y:g}" r="6"/>'
        case Form.SQUARE:
            return _rect(x, y, _SQUARE, _SQUARE, state)
        case Form.BAR:
            return _rect(x, y, shape.width, _BAR_HEIGHT, state)
        case Form.MOON:
            return f'<path{state} d="M{x:g} {y - 18:g}a18 18 0 0 0 0 36z"/>'
        case Form.HALF:
            return f'<path{state} d="M{x - _ROUND:g} {y:g}a{_ROUND} {_ROUND} 0 0 0 {2 * _ROUND} 0z"/>'


def _rect(x: float, y: float, width: float, height: float, state: str) -> str:
    left, top = x - width / 2, y - height / 2
    return f'<rect{state} x="{left:g}" y="{top:g}" width="{width:g}" height="{height:g}" rx="2"/>'


def _label(shape: Shape, down: bool) -> str:
    if not shape.label:
        return ""
    x = shape.x - 8 if shape.form is Form.MOON else shape.x
    small = ' font-size="12"' if len(_said(shape.label)) > 2 else ""
    y = shape.y + 14 if shape.form is Form.HALF else shape.y + 5
    return _text(x, y, _said(shape.label), down, small)


def _said(label: str) -> str:
    """T stands for the thumb; names of notes are the same in every language."""
    if label == "T":
        return pgettext("thumb", "T")
    return _(label) if label[:1].islower() else label


def _hand(stick: str) -> str:
    return pgettext("right hand", "R") if stick == "R" else pgettext("left hand", "L")


def _text(x: float, y: float, label: str, down: bool, more: str = "") -> str:
    size = more or ' font-size="15"'
    fill = "white" if down else "currentColor"
    look = f'text-anchor="middle" stroke="none" fill="{fill}"{size}'
    return f'<text x="{x:g}" y="{y:g}" {look}>{escape(label)}</text>'


def _ring(shape: Shape) -> str:
    half_width, half_height = {
        Form.ROUND: (_ROUND, _ROUND),
        Form.HALF: (_ROUND, _ROUND),
        Form.DOT: (6, 6),
        Form.SQUARE: (_SQUARE / 2, _SQUARE / 2),
        Form.BAR: (shape.width / 2, _BAR_HEIGHT / 2),
        Form.MOON: (9, 18),
    }[shape.form]
    x = shape.x - 9 if shape.form is Form.MOON else shape.x
    round_ = half_width + 5 if shape.form in (Form.ROUND, Form.DOT, Form.HALF) else 5
    return _outline(x, shape.y, half_width, half_height, round_)


def _outline(x: float, y: float, half_width: float, half_height: float, radius: float) -> str:
    return (
        f'<rect class="fingers__move" fill="none" x="{x - half_width - 5:g}" y="{y - half_height - 5:g}" '
        f'width="{2 * half_width + 10:g}" height="{2 * half_height + 10:g}" rx="{radius:g}"/>'
    )


def _valves(
    table: str, pressed: frozenset[str], ringed: frozenset[str]
) -> tuple[tuple[float, float, float, float], str]:
    """Pistons side by side, pressed caps low; the horn's thumb lever in front when it is used."""
    valves = ["1", "2", "3", *(["4"] if "4" in pressed | ringed else [])]
    thumb = table == "horn" and "T" in pressed | ringed
    offset = 52 if thumb else 10
    width = offset + _VALVE_STEP * len(valves) - 12
    parts = [f'<path class="fingers__body" fill="none" d="M4 98H{width - 4:g}"/>']
    if thumb:
        shape = Shape("T", Form.MOON, 42, 98, "T")
        parts.append(_shape(shape, "T" in pressed) + _label(shape, "T" in pressed))
        if "T" in ringed:
            parts.append(_ring(shape))
    for place, valve in enumerate(valves):
        x, down = offset + 20 + _VALVE_STEP * place, valve in pressed
        cap = _CAP_DOWN if down else _CAP_UP
        if not down:
            parts.append(f'<path fill="none" d="M{x:g} 40V54"/>')
        parts.append(f'<rect x="{x - 17:g}" y="54" width="34" height="80" rx="3"/>')
        parts.append(_rect(x, cap + 13, 40, 26, ' class="is-down" fill="currentColor"' if down else ""))
        parts.append(_text(x, cap + 18, valve, down))
        if valve in ringed:
            parts.append(_outline(x, cap + 13, 20, 13, 5))
    return (0, 4, width, 134), "".join(parts)


def _slide(keys: Collection[str], ringed: bool) -> tuple[tuple[float, float, float, float], str]:
    """The slide seen from above: seven positions, the hand at one of them."""
    position = next((int(key) for key in keys if key != "T"), None)
    last = _SLIDE_FIRST + 6 * _SLIDE_STEP
    parts = [f'<path class="fingers__body" fill="none" d="M8 26H{last + 18:g}M8 42H{last + 18:g}"/>']
    for number in range(1, 8):
        x, here = _SLIDE_FIRST + (number - 1) * _SLIDE_STEP, number == position
        if here:
            parts.append(f'<path fill="none" d="M8 20H{x:g}M8 48H{x:g}"/>')
            parts.append(_rect(x, 34, 28, 40, ' class="is-down" fill="currentColor"'))
        else:
            parts.append(f'<path fill="none" d="M{x:g} 22V46"/>')
        parts.append(_text(x, 39 if here else 64, str(number), here))
        if here and ringed:
            parts.append(_outline(x, 34, 14, 20, 5))
    if "T" in keys:
        parts.append(_rect(_SLIDE_FIRST - 6, 84, 52, 20, ' class="is-down" fill="currentColor"'))
        parts.append(_text(_SLIDE_FIRST - 6, 89, _("trigger"), True, ' font-size="12"'))
    return (0, 4, last + 26, 94 if "T" in keys else 68), "".join(parts)


def _stick(stick: str) -> str:
    return '<circle class="is-down" fill="currentColor" cx="30" cy="30" r="22"/>' + _text(30, 36, stick, True)
