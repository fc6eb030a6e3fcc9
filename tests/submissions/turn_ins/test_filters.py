"""Who is shown and who comes next. Rows are plain stand-ins: the order is all that matters here."""

from types import SimpleNamespace
from typing import Any

import pytest

from submissions.turn_ins.filters import (
    DeskFilter,
    Order,
    StateGroup,
    View,
    chosen,
    counts,
    next_to_open,
    one_before,
)
from submissions.turn_ins.standing import Standing


def row(
    pk: int, standing: Standing, *, section: int = 1, instrument: str = "flute", period: str = "2"
) -> Any:
    seat = SimpleNamespace(
        pk=pk, section_id=section, instrument=instrument, section=SimpleNamespace(period=period)
    )
    return SimpleNamespace(seat=seat, standing=standing)


ROWS = [
    row(1, Standing.WAITING),
    row(2, Standing.MARKED),
    row(3, Standing.NOT_YET),
    row(4, Standing.WAITING_LATE, section=2, instrument="horn", period="5"),
    row(5, Standing.REDO, section=2, instrument="tuba", period="5"),
    row(6, Standing.WAITING, section=2, instrument="horn", period="5"),
]


def pks(rows: Any) -> list[int]:
    return [row.seat.pk for row in rows]


@pytest.mark.parametrize(
    ("query", "shown"),
    [
        ({}, [1, 2, 3, 4, 5, 6]),
        ({"section": "2"}, [4, 5, 6]),
        ({"instrument": "horn"}, [4, 6]),
        ({"period": "2"}, [1, 2, 3]),
        ({"state": "waiting"}, [1, 6]),
        ({"state": "late"}, [4]),
        ({"state": "not-in"}, [3]),
        ({"state": "redo", "section": "1"}, []),
        ({"state": "nonsense", "section": "x", "view": "?", "order": "up"}, [1, 2, 3, 4, 5, 6]),
        ({"section": "9" * 40}, [1, 2, 3, 4, 5, 6]),
    ],
)
def test_an_address_says_whom_to_show(query: dict[str, str], shown: list[int]):
    assert pks(chosen(ROWS, DeskFilter.read(query))) == shown


def test_a_choice_is_written_into_an_address_and_read_back():
    choice = DeskFilter(
        view=View.LIST, period="2 & 3", section=4, instrument="horn", state=StateGroup.NOT_IN, order=Order.EAR
    )
    assert choice.query() == "?view=list&period=2+%26+3&section=4&instrument=horn&state=not-in&order=ear"
    assert DeskFilter().query() == ""
    assert DeskFilter(section=4).query(section=None, state=StateGroup.LATE) == "?state=late"


@pytest.mark.parametrize(("after", "expected"), [(None, 1), (1, 4), (4, 6), (6, 1), (99, 1)])
def test_the_next_to_open_waits_and_comes_after_round_to_the_top(after: int | None, expected: int):
    found = next_to_open(ROWS, DeskFilter(), after=after)
    assert found is not None
    assert found.seat.pk == expected


def test_the_seat_itself_is_never_next():
    assert next_to_open(ROWS[:3], DeskFilter(), after=1) is None


def test_next_stays_within_the_choice():
    only_horns = DeskFilter(instrument="horn")
    assert next_to_open(ROWS, only_horns, after=4).seat.pk == 6  # type: ignore[union-attr]
    assert next_to_open(ROWS, only_horns, after=6).seat.pk == 4  # type: ignore[union-attr]


def test_a_chosen_state_is_walked_through_whatever_it_is():
    assert next_to_open(ROWS, DeskFilter(state=StateGroup.REDO), after=1).seat.pk == 5  # type: ignore[union-attr]


def test_a_student_just_returned_keeps_the_place_although_the_choice_lets_it_through_no_more():
    rows = [row(1, Standing.WAITING), row(2, Standing.MARKED), row(3, Standing.WAITING)]
    assert next_to_open(rows, DeskFilter(state=StateGroup.WAITING), after=2).seat.pk == 3  # type: ignore[union-attr]


def test_back_goes_to_the_nearest_before_who_has_something_in():
    assert one_before(ROWS, DeskFilter(), seat=4).seat.pk == 2  # type: ignore[union-attr]
    assert one_before(ROWS, DeskFilter(), seat=1) is None


def test_needs_your_ear_first_sorts_by_need_and_leaves_the_rest_as_they_sit():
    choice = DeskFilter(order=Order.EAR)
    assert pks(chosen(ROWS, choice, ears={6: 3, 1: 0})) == [6, 1, 2, 3, 4, 5]
    assert pks(chosen(ROWS, choice)) == [1, 2, 3, 4, 5, 6]


def test_every_state_is_counted_none_left_out():
    assert counts(ROWS) == {
        StateGroup.WAITING: 2,
        StateGroup.LATE: 1,
        StateGroup.MARKED: 1,
        StateGroup.REDO: 1,
        StateGroup.NOT_IN: 1,
        StateGroup.LIVE: 0,
        StateGroup.EXCUSED: 0,
    }
