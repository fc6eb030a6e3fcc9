"""The band on the desk: seats in arcs with their states, and the list that says the same."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from django.urls import reverse

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band
from bandroom.people.seated import Drawing, SeatedSection, SeatedStudent, drawing_of
from bandroom.people.templatetags.look import band_clock
from submissions.models import Assignment
from submissions.turn_ins.filters import DeskFilter, StateGroup, counts
from submissions.turn_ins.roster import RosterRow
from submissions.turn_ins.standing import Standing

#: From so many students on the arcs are drawn for one class period at a time.
MOST_SEATS_AT_ONCE = 85
INSTRUMENT_NAMES: Mapping[str, str] = dict(Instrument.choices)


@dataclass(frozen=True, slots=True)
class Seated:
    """One student of the list."""

    row: RosterRow
    href: str
    sign: str
    word: str
    says: str
    when: str
    ear: int | None
    is_now: bool

    @property
    def name(self) -> str:
        return self.row.student.full_name

    @property
    def instrument(self) -> str:
        return INSTRUMENT_NAMES[self.row.seat.instrument]


@dataclass(frozen=True, slots=True)
class ListedSection:
    name: str
    students: tuple[Seated, ...]


@dataclass(frozen=True, slots=True)
class StateCount:
    """One state with how many are in it, and the address that shows only those."""

    group: StateGroup
    number: int
    href: str
    is_now: bool


@dataclass(frozen=True, slots=True)
class BandInSeats:
    drawing: Drawing
    label: str
    # The one class period that is drawn; empty where it is the whole band.
    period: str
    counts: tuple[StateCount, ...]
    periods: tuple[tuple[str, str, bool], ...]  # words, address, whether it is the one shown


def seated(
    rows: Sequence[RosterRow],
    *,
    assignment: Assignment,
    choice: DeskFilter,
    begun: frozenset[int] = frozenset(),
    ears: Mapping[int, int] | None = None,
    now: int | None = None,
) -> tuple[Seated, ...]:
    # one address for all, made by hand: two hundred look-ups would cost more than the page
    query, desk = choice.query(), reverse("submissions:desk", args=[assignment.pk])
    found = []
    for row in rows:
        started = row.turn_in is not None and row.turn_in.pk in begun
        when = _when(row, assignment.band)
        found.append(
            Seated(
                row=row,
                href=f"{desk}{row.seat.pk}/{query}",
                sign="begun" if started and row.standing is Standing.WAITING else row.standing.sign,
                word="begun" if started and row.standing is Standing.WAITING else row.standing.words,
                says=_says(row, when, started),
                when=when,
                ear=None if ears is None else ears.get(row.seat.pk),
                is_now=row.seat.pk == now,
            )
        )
    return tuple(found)


def by_section(students: Sequence[Seated]) -> tuple[ListedSection, ...]:
    return tuple(
        ListedSection(str(students[0].row.seat.section), students)
        for students in (
            tuple(group) for _, group in groupby(students, key=lambda student: student.row.seat.section_id)
        )
    )


def band_in_seats(
    students: Sequence[Seated],
    *,
    choice: DeskFilter,
    address: str,
    now: RosterRow | None = None,
) -> BandInSeats:
    """The class in arcs, whatever is filtered: a filter changes who comes next, not who sits there.

    One class period where one is chosen, where a student of it is on the desk, or where all are too many.
    """
    rows = [student.row for student in students]
    periods = list(dict.fromkeys(row.seat.section.period for row in rows))
    shown = choice.period if choice.period in periods else ""
    if not shown and len(periods) > 1 and (now or len(rows) > MOST_SEATS_AT_ONCE):
        shown = now.seat.section.period if now else periods[0]
    sitting = [student for student in students if not shown or student.row.seat.section.period == shown]
    with_period = not shown and len(periods) > 1
    where = f"Period {shown}" if shown else "The band"
    return BandInSeats(
        drawing=drawing_of([_arc(section, with_period=with_period) for section in by_section(sitting)]),
        label=f"{where} in its seats, front row first",
        period=shown,
        counts=tuple(_counts(rows, choice=choice, address=address)),
        periods=() if now else _periods(periods, shown, choice, address, len(rows) <= MOST_SEATS_AT_ONCE),
    )


def _arc(section: ListedSection, *, with_period: bool) -> SeatedSection:
    """As short as an arc has room for: "Flutes P2"."""
    seats = section.students[0].row.seat.section
    return SeatedSection(
        name=f"{seats.name} P{seats.period}" if with_period and seats.period else seats.name,
        students=[
            SeatedStudent(
                first_name=student.row.student.first_name,
                says=student.says,
                state=student.sign,
                href=student.href,
                is_now=student.is_now,
            )
            for student in section.students
        ],
        is_now=any(student.is_now for student in section.students),
    )


def _counts(rows: Sequence[RosterRow], *, choice: DeskFilter, address: str) -> list[StateCount]:
    """Counted over everything but the state itself, so that each number is what its address shows."""
    unfiltered = DeskFilter(period=choice.period, section=choice.section, instrument=choice.instrument)
    within = counts(row for row in rows if unfiltered.admits(row))
    return [
        StateCount(
            group=group,
            number=number,
            href=address + choice.query(state=None if choice.state is group else group),
            is_now=choice.state is group,
        )
        for group, number in within.items()
    ]


def _periods(
    periods: Sequence[str], shown: str, choice: DeskFilter, address: str, everybody: bool
) -> tuple[tuple[str, str, bool], ...]:
    if len(periods) < 2:
        return ()
    found = [("All", address + choice.query(period=""), not shown)] if everybody else []
    found += [
        (
            f"Period {period}" if period else "No period",
            address + choice.query(period=period),
            period == shown,
        )
        for period in periods
    ]
    return tuple(found)


def _when(row: RosterRow, band: Band) -> str:
    """ "Tue 7:42 pm", of what is in."""
    at = row.turn_in.turned_in_at if row.turn_in and row.standing.is_in else None
    return f"{band.local(at):%a} {band_clock(at, band)}" if at else ""


def _lines(labels: Sequence[str]) -> str:
    return f"line{'s' if len(labels) > 1 else ''} {' and '.join(labels)}"


def _says(row: RosterRow, when: str, started: bool) -> str:
    words = [row.standing.in_full]
    if row.standing.needs_marking and row.lines.to_come:
        words.append(f"{_lines(row.lines.to_come)} not in yet")
    if started and row.standing.needs_marking:
        words.append("marking begun")
    if when:
        words.append(when)
    if row.standing is Standing.EXCUSED and row.turn_in and row.turn_in.excuse:
        words.append(row.turn_in.excuse)
    instrument = INSTRUMENT_NAMES[row.seat.instrument]
    return f"{row.student.full_name}, {instrument}: {', '.join(words)}"
