"""Where does each chair stand when the band is drawn as it sits, seen from the podium?

Rows of chairs in arcs, the first sections in front. Pure geometry: no request, no database. Lengths are
units of the drawing's viewBox, x to the right, y down. An arc is the upper part of a superellipse
|x/a|^n + |y/b|^n = 1, flatter in the middle than a circle, so that the names in a row stay level.

A section that does not fit into its row goes on in the row behind, under its own name again. Chairs never
overlap: each row is set back until all of it is clear of all that stands in front, and the drawing grows.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

WIDTH = 1440.0
HEIGHT = 210.0
# Narrower than this and the front row cannot hold a name and a chair.
NARROWEST = 500.0

# Width and height of a chair with its sign and a first name under it; and of one with the sign alone.
NAMED_CHAIR = (50.0, 32.0)
PLAIN_CHAIR = (27.0, 24.0)
# With more rows of names than this, the seating leaves no room on the screen for the work under it.
MOST_NAMED_ROWS = 4
# Width of each letter of a first name as it stands on the chair that is chosen: bold, 12 units, the widest of
# its group in our font. What is in no group is taken for as wide as it is high.
LETTER_WIDTHS = {
    letter: width
    for letters, width in (
        ("'’.jil", 3.8), ("frtI- ", 5.1), ("cszyvxç", 6.5), ("abdeghknopquáéñöüJFL", 7.2),
        ("BCEKPRSTVYZß", 8.0), ("ADGHNUX", 8.6), ("wOQ", 9.1), ("…", 9.4), ("mMW", 10.6),
    )
    for letter in letters
}  # fmt: skip
WIDEST_LETTER = 12.0
# A name wider than its chair is written smaller, so that this much of it fits; more is cut off.
WIDEST_NAME = 60.5
# Height of a section's name, width of one letter of it (bold, 12 units, measured wide), most letters shown.
LABEL_HEIGHT, LETTER, LONGEST_LABEL = 15.0, 6.9, 18
# Space between two chairs, one behind the other; room for the riser's line.
AISLE = 4.0
# A wish for more height may add this much to each aisle, no more.
WIDEST_AISLE = 16.0
# A few chairs are not pulled apart over the whole width.
WIDEST_SPREAD = 1.3
# Rows with room to spare are left equally full if they can be; steps in which fuller ones are tried.
FULLER = 0.04
# Share of the width that the front row and the back row take.
FRONT_SHARE, BACK_SHARE = 0.5, 0.96
# The superellipse: its exponent, its depth to its half width, and how far out it is used. Farther out it
# falls too steeply for chairs to stand beside each other.
EXPONENT, DEPTH, REACH = 2.2, 0.135, 0.94
# A section is not split so that fewer chairs than this stand alone.
FEWEST_ALONE = 2
# Around the whole drawing; between two points of a riser's line.
MARGIN, RISER_STEP = 8.0, 30.0
# Half the width of the podium, which stands in the middle under the band. How far it may move up into the
# drawing is told in steps of so many units; with more steps what stands beside it would touch the front row.
PODIUM_HALF, CLEAR_STEP, MOST_CLEAR = 190.0, 10.0, 3


@dataclass(frozen=True, slots=True)
class SectionSeats:
    """How many chairs a section has. Sections come in the order they sit: front row first, left to right."""

    name: str
    count: int


@dataclass(frozen=True, slots=True)
class Chair:
    """The middle of a chair: `seat` of `section`, in `row` from the front; all counted from 0."""

    section: int
    seat: int
    row: int
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Label:
    """The middle of a section's name, left of its chairs; `again` when it goes on from the row in front."""

    section: int
    text: str
    again: bool
    row: int
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Riser:
    """The line that the chairs of one section stand on in one row, as SVG path data."""

    section: int
    path: str


@dataclass(frozen=True, slots=True)
class ChairName:
    """A first name as it is written on a chair; `small` where it would be wider than the chair."""

    text: str
    small: bool


@dataclass(frozen=True, slots=True)
class Seating:
    width: float
    height: float
    chair: tuple[float, float]
    named: bool
    places: tuple[Chair, ...]
    labels: tuple[Label, ...]
    risers: tuple[Riser, ...]
    clear: int  # steps of 10 units, 0 to 3, that stay free in the middle under the front row


@dataclass(frozen=True, slots=True)
class _Thing:
    """A chair (seat from 0) or a name (seat None), `x` from the middle of its row."""

    section: int
    seat: int | None
    x: float
    width: float
    height: float
    again: bool = False


@dataclass(slots=True)
class _Row:
    half: float
    runs: list[tuple[int, int, int]] = field(default_factory=list)  # section, first seat, how many
    things: list[_Thing] = field(default_factory=list)
    top: float = 0.0

    def drop(self, x: float) -> float:
        """How far below the top of this row's arc it is at `x` from the middle."""
        across = self.half / REACH
        u = min(abs(x) / across, REACH)
        return float(across * DEPTH * (1 - (1 - u**EXPONENT) ** (1 / EXPONENT)))


def seat_places(sections: Sequence[SectionSeats], *, width: float = WIDTH, height: float = HEIGHT) -> Seating:
    """A chair for every seat in as few rows as hold them; first names fit up to about 65 seats.

    `height` is a wish: fewer rows spread a little to meet it, more rows make the drawing taller.
    """
    return _seated(tuple(sections), width=width, height=height)


@lru_cache(maxsize=64)  # a band sits the same way from page to page
def _seated(sections: tuple[SectionSeats, ...], *, width: float, height: float) -> Seating:
    if width < NARROWEST:
        raise ValueError(f"A band cannot be drawn {width:g} units wide; give at least {NARROWEST:g}.")
    rows = _rows(sections, width=width, chair=NAMED_CHAIR[0], most=MOST_NAMED_ROWS)
    named = rows is not None
    chair = NAMED_CHAIR if named else PLAIN_CHAIR
    if rows is None:
        rows = _rows(sections, width=width, chair=chair[0], most=None) or []
    for row in rows:
        _stand(row, sections, chair=chair)
    _set_back(rows)
    _spread_rows(rows, height=height)
    return _drawn(rows, sections, width=width, chair=chair, named=named)


def printed_label(name: str) -> str:
    return name if len(name) <= LONGEST_LABEL else name[: LONGEST_LABEL - 1].rstrip() + "…"


def chair_name(first_name: str) -> ChairName:
    """All of it where it fits, or as many letters as do."""
    shown = first_name
    while shown and _name_width(shown) > WIDEST_NAME:
        shown = shown.removesuffix("…")[:-1].rstrip() + "…"
    return ChairName(text=shown, small=_name_width(shown) > NAMED_CHAIR[0])


def _name_width(name: str) -> float:
    return sum(LETTER_WIDTHS.get(letter, WIDEST_LETTER) for letter in name)


def _label_width(name: str, *, chair: float) -> float:
    return max(chair, LETTER * len(printed_label(name)) + 12)


def _halves(count: int, *, width: float) -> list[float]:
    """Half of what each row takes of the width, the front row first."""
    if count == 1:
        return [width * (FRONT_SHARE + BACK_SHARE) / 4]
    step = (BACK_SHARE - FRONT_SHARE) / (count - 1)
    return [width / 2 * (FRONT_SHARE + step * index) for index in range(count)]


def _rows(
    sections: Sequence[SectionSeats], *, width: float, chair: float, most: int | None
) -> list[_Row] | None:
    """The fewest rows that hold all chairs, the front row first; None when `most` are not enough."""
    count = 1
    while most is None or count <= most:
        rows = _dealt(sections, halves=_halves(count, width=width), chair=chair)
        if rows is not None:
            return [row for row in rows if row.runs]
        count += 1
    return None


def _dealt(sections: Sequence[SectionSeats], *, halves: Sequence[float], chair: float) -> list[_Row] | None:
    """Deal the sections into the rows, all about equally full; None when they do not fit."""
    needed = sum(
        _label_width(section.name, chair=chair) + section.count * chair
        for section in sections
        if section.count
    )
    full = needed / sum(2 * half for half in halves)
    while full < 1 + FULLER:
        rows = _filled(sections, halves=halves, chair=chair, full=min(full, 1.0))
        if rows is not None:
            return rows
        full += FULLER
    return None


def _filled(
    sections: Sequence[SectionSeats], *, halves: Sequence[float], chair: float, full: float
) -> list[_Row] | None:
    """Fill each row to the share `full` of its width, or to its end where that keeps a section whole."""
    rows = [_Row(half=half) for half in halves]
    at, used = 0, 0.0
    for index, section in enumerate(sections):
        name, done = _label_width(section.name, chair=chair), 0
        while done < section.count:
            if at == len(rows):
                return None
            left = section.count - done
            room = int((2 * rows[at].half - used - name) // chair)
            fair = int((2 * rows[at].half * full - used - name) // chair)
            whole = left <= room and left - fair < max(FEWEST_ALONE, left // 3)
            take = left if whole else min(fair, left)
            if take >= min(FEWEST_ALONE, left):
                rows[at].runs.append((index, done, take))
                used += name + take * chair
                done += take
            if done < section.count:
                at, used = at + 1, 0.0
    return rows


def _stand(row: _Row, sections: Sequence[SectionSeats], *, chair: tuple[float, float]) -> None:
    """Give every chair and name of the row its distance from the middle."""
    wide, high = chair
    things: list[_Thing] = []
    for section, first, count in row.runs:
        name = _label_width(sections[section].name, chair=wide)
        things.append(_Thing(section, None, 0, name, LABEL_HEIGHT, again=first > 0))
        things += [_Thing(section, seat, 0, wide, high) for seat in range(first, first + count)]
    length = sum(thing.width for thing in things)
    spread = min(WIDEST_SPREAD, 2 * row.half / length)
    edge = -length * spread / 2
    for thing in things:
        middle = edge + thing.width * spread / 2
        row.things.append(_Thing(thing.section, thing.seat, middle, thing.width, thing.height, thing.again))
        edge += thing.width * spread


def _set_back(rows: Sequence[_Row]) -> None:
    """Move each row up (a smaller y) until all of it is clear of all that stands in front."""
    for index, row in enumerate(rows):
        for front in rows[:index]:
            for near, far in _across(front.things, row.things):
                apart = (near.height + far.height) / 2 + AISLE
                row.top = min(row.top, front.top + front.drop(near.x) - row.drop(far.x) - apart)


def _across(front: Sequence[_Thing], behind: Sequence[_Thing]) -> Iterator[tuple[_Thing, _Thing]]:
    """Pairs that share a bit of width, one of each row; both rows run from left to right."""
    start = 0
    for far in behind:
        while start < len(front) and front[start].x + front[start].width / 2 <= far.x - far.width / 2:
            start += 1
        for near in front[start:]:
            if near.x - near.width / 2 >= far.x + far.width / 2:
                break
            yield near, far


def _spread_rows(rows: Sequence[_Row], *, height: float) -> None:
    if len(rows) < 2:
        return
    spare = height - (_bottom(rows) - _top(rows)) - 2 * MARGIN
    more = max(0.0, min(spare / (len(rows) - 1), WIDEST_AISLE))
    for index, row in enumerate(rows):
        row.top -= more * index


def _bottom(rows: Sequence[_Row], *, within: float = float("inf")) -> float:
    """The lowest point of all that stands so near to the middle."""
    return max(
        (
            row.top + row.drop(thing.x) + thing.height / 2
            for row in rows
            for thing in row.things
            if abs(thing.x) - thing.width / 2 < within
        ),
        default=0.0,
    )


def _top(rows: Sequence[_Row]) -> float:
    return min((row.top + row.drop(t.x) - t.height / 2 for row in rows for t in row.things), default=0.0)


def _drawn(
    rows: Sequence[_Row],
    sections: Sequence[SectionSeats],
    *,
    width: float,
    chair: tuple[float, float],
    named: bool,
) -> Seating:
    down, middle = MARGIN - _top(rows), width / 2
    places: list[Chair] = []
    labels: list[Label] = []
    risers: list[Riser] = []
    for number, row in enumerate(rows):
        for thing in row.things:
            x, y = round(middle + thing.x, 1), round(down + row.top + row.drop(thing.x), 1)
            if thing.seat is None:
                text = printed_label(sections[thing.section].name)
                labels.append(Label(thing.section, text, thing.again, number, x, y))
            else:
                places.append(Chair(thing.section, thing.seat, number, x, y))
        risers += _risers(row, middle=middle, down=down, chair=chair)
    lowest = _bottom(rows)
    free = lowest - _bottom(rows, within=PODIUM_HALF)
    return Seating(
        width=width,
        height=round(down + lowest + MARGIN, 1),
        chair=chair,
        named=named,
        places=tuple(places),
        labels=tuple(labels),
        risers=tuple(risers),
        clear=max(0, min(int(free // CLEAR_STEP), MOST_CLEAR)),
    )


def _risers(row: _Row, *, middle: float, down: float, chair: tuple[float, float]) -> Iterator[Riser]:
    wide, high = chair
    for section, _, _ in row.runs:
        chairs = [thing.x for thing in row.things if thing.section == section and thing.seat is not None]
        left, right = chairs[0] - wide / 2, chairs[-1] + wide / 2
        steps = max(1, round((right - left) / RISER_STEP))
        points = [left + (right - left) * step / steps for step in range(steps + 1)]
        under = down + row.top + high / 2 + AISLE / 2
        yield Riser(section, "M" + "L".join(f"{middle + x:.1f} {under + row.drop(x):.1f}" for x in points))
