"""Which students the desk shows, in which order, and who comes next. Pure, on rows of the roster."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Self
from urllib.parse import urlencode

from submissions.turn_ins.roster import RosterRow
from submissions.turn_ins.standing import Standing


class StateGroup(StrEnum):
    """Standings as a director asks for them."""

    WAITING = "waiting"
    LATE = "late"
    MARKED = "marked"
    REDO = "redo"
    NOT_IN = "not-in"
    LIVE = "live"
    EXCUSED = "excused"

    @property
    def words(self) -> str:
        return "not in" if self is StateGroup.NOT_IN else self._standing.words

    @property
    def sign(self) -> str:
        return self._standing.sign

    @property
    def _standing(self) -> Standing:
        """The one it asks for; of those with nothing in the first."""
        return next(standing for standing, group in GROUP_OF.items() if group is self)


GROUP_OF: Mapping[Standing, StateGroup] = {
    Standing.WAITING: StateGroup.WAITING,
    Standing.WAITING_LATE: StateGroup.LATE,
    Standing.MARKED: StateGroup.MARKED,
    Standing.REDO: StateGroup.REDO,
    Standing.NOT_YET: StateGroup.NOT_IN,
    Standing.MISSING: StateGroup.NOT_IN,
    Standing.LIVE: StateGroup.LIVE,
    Standing.EXCUSED: StateGroup.EXCUSED,
}


class View(StrEnum):
    SEATS = "seats"
    LIST = "list"


class Order(StrEnum):
    SEATS = "seats"
    EAR = "ear"


@dataclass(frozen=True, slots=True)
class DeskFilter:
    """What a director chose to see; empty means everybody. It travels in the address."""

    view: View = View.SEATS
    period: str = ""
    section: int | None = None
    instrument: str = ""
    state: StateGroup | None = None
    order: Order = Order.SEATS

    @classmethod
    def read(cls, query: Mapping[str, str]) -> Self:
        """Whatever an address holds; what it cannot mean is left out."""
        section = query.get("section", "")
        return cls(
            view=_choice(View, query.get("view", "")) or View.SEATS,
            period=query.get("period", "")[:30],
            section=int(section) if section.isascii() and section.isdecimal() and len(section) < 19 else None,
            instrument=query.get("instrument", "")[:20],
            state=_choice(StateGroup, query.get("state", "")),
            order=_choice(Order, query.get("order", "")) or Order.SEATS,
        )

    @property
    def narrows(self) -> bool:
        return bool(self.period or self.section or self.instrument or self.state)

    def query(self, **changes: object) -> str:
        """ "?section=4&state=waiting", or nothing."""
        chosen = replace(self, **changes)  # type: ignore[arg-type]  # names and kinds are this class's own
        values: dict[str, object] = {
            "view": chosen.view if chosen.view is not View.SEATS else "",
            "period": chosen.period,
            "section": chosen.section or "",
            "instrument": chosen.instrument,
            "state": chosen.state or "",
            "order": chosen.order if chosen.order is not Order.SEATS else "",
        }
        text = urlencode({name: value for name, value in values.items() if value != ""})
        return f"?{text}" if text else ""

    @property
    def without_state(self) -> Self:
        return replace(self, state=None)

    def admits(self, row: RosterRow) -> bool:
        return (
            self.state in {None, GROUP_OF[row.standing]}
            and self.section in {None, row.seat.section_id}
            and self.instrument in {"", row.seat.instrument}
            and self.period in {"", row.seat.section.period}
        )

    def wants(self, row: RosterRow) -> bool:
        """Whether the desk opens this row by itself: what waits, or what the chosen state asks for."""
        by_state = self.state in {None, StateGroup.WAITING, StateGroup.LATE}
        return self.admits(row) and (row.standing.needs_marking or not by_state)


def chosen(
    rows: Sequence[RosterRow], choice: DeskFilter, *, ears: Mapping[int, int] | None = None
) -> tuple[RosterRow, ...]:
    """The rows a filter lets through; with `ears` (by seat) those that need an ear most come first."""
    kept = [row for row in rows if choice.admits(row)]
    if choice.order is Order.EAR and ears is not None:
        kept.sort(key=lambda row: -ears.get(row.seat.pk, -1))
    return tuple(kept)


def next_to_open(
    rows: Sequence[RosterRow],
    choice: DeskFilter,
    *,
    after: int | None = None,
    ears: Mapping[int, int] | None = None,
) -> RosterRow | None:
    """The next row after the seat `after`, from the top again at the end; never that seat itself.

    The seat keeps its place even where the filter lets it through no more, because it was just returned.
    """
    order = chosen(rows, choice.without_state, ears=ears)
    place = next((index for index, row in enumerate(order) if row.seat.pk == after), -1)
    turned = [*order[place + 1 :], *order[: max(place, 0)]]
    return next((row for row in turned if choice.wants(row)), None)


def one_before(
    rows: Sequence[RosterRow], choice: DeskFilter, *, seat: int, ears: Mapping[int, int] | None = None
) -> RosterRow | None:
    """The nearest row before the seat that has something in, marked or not; at the top there is none."""
    order = chosen(rows, choice.without_state, ears=ears)
    place = next((index for index, row in enumerate(order) if row.seat.pk == seat), 0)
    return next((row for row in reversed(order[:place]) if row.standing.is_in or choice.wants(row)), None)


def counts(rows: Iterable[RosterRow]) -> dict[StateGroup, int]:
    found = dict.fromkeys(StateGroup, 0)
    for row in rows:
        found[GROUP_OF[row.standing]] += 1
    return found


def _choice[E: StrEnum](kind: type[E], value: str) -> E | None:
    try:
        return kind(value)
    except ValueError:
        return None
