"""What the week board shows of a week, and that other weeks and years do not reach it."""

from datetime import UTC, date, datetime, timedelta

import pytest

from bandroom.people.models import Section
from submissions.assigning.board import DayEvent, Tally, week_board
from submissions.assigning.periods import by_period
from submissions.models import TurnIn
from submissions.turn_ins.roster import roster
from tests import factories
from tests.submissions.assigning.rows import make_turn_in

pytestmark = pytest.mark.django_db
MONDAY = date(2026, 10, 5)
THURSDAY_8PM = datetime(2026, 10, 9, 1, 0, tzinfo=UTC)
SUNDAY_8PM = datetime(2026, 10, 12, 1, 0, tzinfo=UTC)
LAST_WEEK = datetime(2026, 9, 30, 13, 0, tzinfo=UTC)


def post(band, sections, *, opens_at=LAST_WEEK, due_at=THURSDAY_8PM, closes_at=SUNDAY_8PM):
    return factories.make_assignment(
        band=band, sections=sections, opens_at=opens_at, due_at=due_at, closes_at=closes_at
    )


def jobs(board):
    """Every job as (period, weekday, event, number)."""
    return [
        (row.period or row.sections[0].name, f"{cell.day:%a}", job.event, job.assignment.number)
        for row in board.rows
        for cell in row.cells
        for job in cell.jobs
    ]


def test_a_deadline_stands_on_its_day_in_the_row_of_the_period(band, section, at):
    post(band, [section])
    board = week_board(band=band, monday=MONDAY, at=at)
    assert jobs(board) == [("2", "Thu", DayEvent.DUE, 1)]
    assert [day.day for day in board.days] == [5, 6, 7, 8, 9]
    assert [cell.has_deadline for cell in board.rows[0].cells] == [False, False, False, True, False]
    assert [cell.is_today for cell in board.rows[0].cells] == [False, True, False, False, False]


def test_days_are_the_bands_own(band, section, at):
    # Thursday 11:30 pm in Chicago is Friday in UTC.
    post(band, [section], due_at=datetime(2026, 10, 9, 4, 30, tzinfo=UTC))
    assert jobs(week_board(band=band, monday=MONDAY, at=at)) == [("2", "Thu", DayEvent.DUE, 1)]


def test_the_weekend_is_shown_where_something_is_due_on_it(band, section, at):
    post(band, [section], due_at=datetime(2026, 10, 10, 17, 0, tzinfo=UTC))
    board = week_board(band=band, monday=MONDAY, at=at)
    assert [f"{day:%a}" for day in board.days] == ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
    assert jobs(board) == [("2", "Sat", DayEvent.DUE, 1), ("2", "Sun", DayEvent.CLOSES, 1)]


def test_opening_and_closing_stand_on_their_days_and_due_wins_the_day(band, section, at):
    wednesday = datetime(2026, 10, 7, 12, 30, tzinfo=UTC)
    post(band, [section], opens_at=wednesday, due_at=wednesday + timedelta(hours=9), closes_at=THURSDAY_8PM)
    next_week = SUNDAY_8PM + timedelta(days=4)
    post(band, [section], opens_at=wednesday, due_at=next_week, closes_at=next_week)
    assert jobs(week_board(band=band, monday=MONDAY, at=at)) == [
        ("2", "Wed", DayEvent.OPENS, 2),
        ("2", "Wed", DayEvent.DUE, 1),
        ("2", "Thu", DayEvent.CLOSES, 1),
    ]


def test_sections_of_a_period_that_share_all_times_are_one_job(band, at):
    flutes, oboes, horns = (
        factories.make_section(band=band, name=name, period=period)
        for name, period in (("Flutes", "2"), ("Oboes", "2"), ("Horns", "5"))
    )
    for section in (flutes, flutes, oboes, horns):
        factories.make_seat(section=section)
    post(band, [flutes, oboes, horns])
    board = week_board(band=band, monday=MONDAY, at=at)
    assert jobs(board) == [("2", "Thu", DayEvent.DUE, 1), ("5", "Thu", DayEvent.DUE, 1)]
    [job] = board.rows[0].cells[3].jobs
    assert job.sections == ()
    assert job.tally == Tally(is_in=0, excused=0, waiting=0, students=3)
    assert [row.students for row in board.rows] == [3, 1]


def test_a_job_of_some_sections_names_them(band, at):
    flutes = factories.make_section(band=band, name="Flutes")
    factories.make_section(band=band, name="Oboes")
    post(band, [flutes])
    [job] = week_board(band=band, monday=MONDAY, at=at).rows[0].cells[3].jobs
    assert job.sections == (flutes,)


def test_sections_with_other_times_are_another_job(band, at):
    flutes, oboes = (factories.make_section(band=band, name=name) for name in ("Flutes", "Oboes"))
    assignment = post(band, [flutes, oboes])
    assignment.postings.filter(section=oboes).update(due_at=THURSDAY_8PM + timedelta(days=1))
    [row] = week_board(band=band, monday=MONDAY, at=at).rows
    assert [[job.sections for job in cell.jobs] for cell in row.cells[3:]] == [[(flutes,)], [(oboes,)]]


def test_who_is_in_agrees_with_the_roster(band, section, at):
    # One of each state, one whose seat ended before due, one who came after, one who left after turning in.
    assignment = post(band, [section])
    for state in TurnIn.State:
        make_turn_in(seat=factories.make_seat(section=section), assignment=assignment, state=state)
    factories.make_seat(section=section)
    factories.make_seat(section=section, until=date(2026, 10, 7))
    factories.make_seat(section=section, since=date(2026, 10, 9))
    left = factories.make_seat(section=section, until=date(2026, 10, 7))
    make_turn_in(seat=left, assignment=assignment)

    [job] = week_board(band=band, monday=MONDAY, at=at).rows[0].cells[3].jobs
    rows = roster(assignment=assignment, at=at)
    assert job.tally == Tally(is_in=4, excused=1, waiting=2, students=7)
    assert job.tally.students == len(rows)
    assert job.tally.is_in == sum(row.standing.is_in for row in rows)
    assert job.tally.not_in == 2
    assert job.tally.ticks == ["is-in"] * 4 + ["is-excused"] + [""] * 2


def test_a_withdrawn_assignment_is_not_shown(band, section, at):
    assignment = post(band, [section])
    assignment.withdrawn_at = at
    assignment.save(update_fields=["withdrawn_at"])
    board = week_board(band=band, monday=MONDAY, at=at)
    assert jobs(board) == []
    assert board.is_empty


def test_other_weeks_and_other_bands_are_not_shown(band, section, at):
    other = factories.make_band()
    post(other, [factories.make_section(band=other)])
    post(
        band, [section], due_at=THURSDAY_8PM - timedelta(weeks=1), closes_at=THURSDAY_8PM - timedelta(days=5)
    )
    post(
        band,
        [section],
        opens_at=SUNDAY_8PM + timedelta(days=1),
        due_at=THURSDAY_8PM + timedelta(weeks=1),
        closes_at=SUNDAY_8PM + timedelta(weeks=1),
    )
    assert jobs(week_board(band=band, monday=MONDAY, at=at)) == []


def test_the_week_of_the_autumn_change_has_all_of_sunday(band, section, at):
    # Sunday 1 November 2026 is 25 hours long in Chicago (15 U.S.C. 260a): 11:30 pm is UTC-6.
    due = datetime(2026, 11, 2, 5, 30, tzinfo=UTC)
    post(band, [section], due_at=due, closes_at=due)
    assert jobs(week_board(band=band, monday=date(2026, 10, 26), at=at)) == [("2", "Sun", DayEvent.DUE, 1)]
    assert jobs(week_board(band=band, monday=date(2026, 11, 2), at=at)) == []


def test_periods_stand_as_they_are_counted_and_sections_without_one_last(band):
    for period, name in (("10", "Flutes"), ("2", "Tubas"), ("", "Jazz"), ("2", "Flutes"), ("", "Bells")):
        factories.make_section(band=band, period=period, name=name)
    Section.objects.filter(name="Tubas").update(order=9)
    groups = by_period(Section.objects.all())
    assert [[section.name for section in group] for group in groups[:2]] == [["Flutes", "Tubas"], ["Flutes"]]
    assert [group[0].period for group in groups] == ["2", "10", "", ""]
    assert sorted(group[0].name for group in groups[2:]) == ["Bells", "Jazz"]


@pytest.mark.parametrize("rows", [1, 30])
def test_the_board_takes_four_queries_however_much_stands_on_it(band, at, rows, django_assert_num_queries):
    sections = [factories.make_section(band=band, period=str(n)) for n in range(rows)]
    for _ in range(3):
        assignment = post(band, sections)
        for section in sections:
            make_turn_in(seat=factories.make_seat(section=section), assignment=assignment)
    with django_assert_num_queries(4):
        board = week_board(band=band, monday=MONDAY, at=at)
    assert len(jobs(board)) == 3 * rows


def test_earlier_years_bring_no_rows_to_the_board(band, section, at):
    post(band, [section])
    for weeks in range(1, 200):
        back = timedelta(weeks=weeks)
        post(
            band,
            [section],
            opens_at=LAST_WEEK - back,
            due_at=THURSDAY_8PM - back,
            closes_at=THURSDAY_8PM - back,
        )
    assert len(jobs(week_board(band=band, monday=MONDAY, at=at))) == 1
