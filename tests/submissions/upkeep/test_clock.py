"""A clock that jumps is doubted; days that go by are not."""

from datetime import timedelta

import pytest

from bandroom.people.models import User
from submissions.upkeep import clock

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def looks(at, *, every, count):
    return [clock.look(at=at + n * every) for n in range(count)]


def test_hours_and_months_that_go_by_are_believed(at):
    assert looks(at, every=DAY, count=200) == [None] * 200
    assert looks(at + 200 * DAY, every=HOUR, count=50) == [None] * 50


def test_a_jump_is_doubted_at_every_later_look(at):
    clock.look(at=at)
    after = at + 200 * DAY

    assert clock.look(at=after) == clock.Doubt(before=at, after=after)
    assert looks(after, every=HOUR, count=24) == [clock.Doubt(before=at, after=after)] * 24
    assert clock.doubt() == clock.Doubt(before=at, after=after)


def test_a_clock_that_is_put_back_is_believed(at):
    clock.look(at=at)
    clock.look(at=at + 200 * DAY)

    assert clock.look(at=at + HOUR) is None
    assert clock.look(at=at + 2 * HOUR) is None


def test_after_a_week_of_even_steps_it_is_believed(at):
    clock.look(at=at)
    after = at + 3 * DAY  # the computer was off over a long weekend

    *doubted, last = looks(after, every=HOUR, count=7 * 24 + 1)

    assert None not in doubted
    assert last is None
    assert clock.doubt() is None


def test_a_second_jump_begins_the_week_anew(at):
    clock.look(at=at)
    clock.look(at=at + 3 * DAY)

    assert clock.look(at=at + 20 * DAY) == clock.Doubt(before=at, after=at + 20 * DAY)
    assert clock.look(at=at + 21 * DAY) == clock.Doubt(before=at, after=at + 20 * DAY)


def test_somebody_says_that_today_is_right(at):
    clock.look(at=at)
    clock.look(at=at + 200 * DAY)

    clock.believe(at=at + 200 * DAY + HOUR)

    assert clock.look(at=at + 200 * DAY + 2 * HOUR) is None


def test_where_no_worker_looked_before_the_newest_row_tells(at, seat):
    User.objects.filter(pk=seat.student_id).update(last_login=at)

    assert clock.look(at=at + 200 * DAY) == clock.Doubt(before=at, after=at + 200 * DAY)


def test_where_nothing_is_yet_there_is_nothing_to_doubt(at):
    assert clock.look(at=at) is None
