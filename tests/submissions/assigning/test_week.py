"""The week board as a page."""

from datetime import timedelta

import pytest

from submissions.models import Stuck, Take, TurnIn
from tests import factories
from tests.submissions.assigning.pages import HTML, assert_escaped, statuses
from tests.submissions.assigning.rows import make_take, make_turn_in

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("on_tuesday")]
WEEK = "/week/"


def page(client, url=WEEK):
    response = client.get(url)
    assert response.status_code == 200
    return response.content.decode()


def words(html):
    return " ".join(html.split())


def test_it_shows_the_deadline_who_is_in_and_what_to_mark(as_director, section, assignment, seat):
    make_turn_in(seat=seat, assignment=assignment)
    make_turn_in(seat=factories.make_seat(section=section), assignment=assignment, state=TurnIn.State.EXCUSED)
    factories.make_seat(section=section)
    shown = words(page(as_director))
    assert "This week in band" in shown
    assert ", week 7. A double bar" in shown  # school began on Monday 24 August
    assert "Period 2" in shown
    assert "3 students" in shown
    assert "due 7:00 am" in shown
    assert "1 of 3 in, 1 excused, 1 not yet" in shown
    assert '<i class="is-in"></i><i class="is-excused"></i><i></i>' in shown
    assert "1 waiting, the oldest since Monday 5 October" in shown
    assert f'href="/assignments/{assignment.pk}/desk/?period=2"' in shown


def test_it_lists_what_needs_a_decision(as_director, assignment, seat):
    make_take(seat=seat, assignment=assignment, state=Take.State.REFUSED, reason="The file is empty.")
    Stuck.objects.create(seat=seat, assignment=assignment, line="B", bar=2, at=factories.MONDAY)
    shown = words(page(as_director))
    assert f"<b>{seat.student}</b> sent a take that cannot be played" in shown
    assert "The file is empty." in shown
    assert f"<b>{seat.student}</b> is stuck at line B, bar 2" in shown
    assert f'href="/assignments/{assignment.pk}/desk/{seat.pk}/"' in shown


def test_an_empty_band_is_told_what_to_do(as_director):
    shown = page(as_director)
    assert "The band has no sections yet." in shown
    assert 'href="/band/import/">Bring in a class list</a>' in shown
    assert "Everything that came in is marked." not in shown, "nothing could come in"


def test_a_substitute_of_an_empty_band_is_told_who_fills_it(substitute, sign_in):
    shown = page(sign_in(substitute.user))
    assert "The director brings in the class list." in shown
    assert "/band/import/" not in shown


def test_a_week_without_anything_says_so(as_director, section):
    assert "Nothing opens, is due or closes in this week." in page(as_director)


@pytest.mark.parametrize("day", ["2026-10-12", "2026-10-15", "2026-10-18"])
def test_any_day_names_its_week(as_director, section, day):
    shown = page(as_director, f"{WEEK}?monday={day}")
    assert "Week of 12 October 2026" in shown
    assert "?monday=2026-10-05" in shown
    assert "?monday=2026-10-19" in shown


@pytest.mark.parametrize("day", ["soon", "2026-13-01", "0001-01-01", "9999-12-31", "<b>"])
def test_a_day_that_is_none_shows_this_week_and_says_so(as_director, section, day):
    shown = page(as_director, f"{WEEK}?monday={day}")
    assert "This week in band" in shown
    assert "That address names no day, so here is this week." in shown


def test_what_people_wrote_is_escaped(as_director, band):
    section = factories.make_section(band=band, name=HTML[:60], period="<b>")
    other = factories.make_section(band=band, name="Plain", period="<b>")
    exercise = factories.make_exercise(band=band, title=HTML)
    assignment = factories.make_assignment(band=band, sections=[section], exercise=exercise)
    seat = factories.make_seat(section=section, student=factories.make_user(first_name=HTML))
    factories.make_seat(section=other)
    make_turn_in(seat=seat, assignment=assignment)
    make_take(
        seat=seat,
        assignment=assignment,
        state=Take.State.REFUSED,
        reason=HTML,
        at=factories.MONDAY + timedelta(hours=1),
    )
    response = as_director.get(WEEK)
    assert_escaped(response)
    assert "Period <b>" not in response.content.decode()


def test_a_substitute_sees_the_week_but_not_how_to_post(as_substitute, section, assignment):
    shown = page(as_substitute)
    assert "due 7:00 am" in shown
    assert "/assignments/new/" not in shown


def test_strangers_see_nothing_of_it(as_stranger, assignment):
    assert "Stepping Stones" not in page(as_stranger)


def test_students_get_404_and_visitors_the_sign_in_page(as_student, visitor):
    assert statuses(WEEK, as_student, visitor) == [404, 302]


def test_only_reading_is_allowed(as_director):
    assert as_director.post(WEEK).status_code == 405


@pytest.mark.parametrize("rows", [1, 30])
def test_the_page_takes_the_same_queries_for_one_and_for_thirty(
    as_director, band, rows, django_assert_num_queries
):
    sections = [factories.make_section(band=band, period=str(n)) for n in range(rows)]
    assignment = factories.make_assignment(band=band, sections=sections)
    for n, section in enumerate(sections):
        seat = factories.make_seat(section=section)
        make_turn_in(seat=seat, assignment=assignment)
        Stuck.objects.create(seat=seat, assignment=assignment, line="B", bar=n, at=factories.MONDAY)
    # Session, user, membership; policy; three kinds of decisions; four of the board; two of what to mark; the
    # worker, takes that wait, the clock, what is deleted next week.
    with django_assert_num_queries(17):
        as_director.get(WEEK)
