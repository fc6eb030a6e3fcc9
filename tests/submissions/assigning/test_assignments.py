"""The list of assignments as a page."""

from datetime import timedelta

import pytest

from tests import factories
from tests.submissions.assigning.pages import HTML, assert_escaped, statuses
from tests.submissions.assigning.rows import make_turn_in

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("on_tuesday")]
LIST = "/assignments/"
DAY = timedelta(days=1)


def page(client, url=LIST):
    response = client.get(url)
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


def titled(band, section, title, *, days, at):
    """Due so many days from now; opened three days before, closes three days after."""
    return factories.make_assignment(
        band=band,
        sections=[section],
        exercise=factories.make_exercise(band=band, title=title),
        opens_at=at + (days - 3) * DAY,
        due_at=at + days * DAY,
        closes_at=at + (days + 3) * DAY,
    )


def test_coming_open_and_closed_stand_apart(as_director, band, section, at):
    titled(band, section, "Past", days=-7, at=at)
    titled(band, section, "Late still taken", days=-2, at=at)
    titled(band, section, "Soon", days=9, at=at)
    titled(band, section, "Sooner", days=8, at=at)
    # What is coming was posted now, not when it opens.
    band.assignments.update(posted_at=at - 8 * DAY)
    shown = page(as_director)
    order = ["Open now", "Late still taken", "Coming", "Sooner", "Soon</a>", "Closed", "Past"]
    places = [shown.index(words) for words in order]
    assert places == sorted(places)
    assert "was due Sunday 4 October, 3:00 pm" in shown
    assert "due Wednesday 14 October, 3:00 pm" in shown


def test_it_says_how_many_wait_and_leads_to_them(as_director, assignment, seat):
    make_turn_in(seat=seat, assignment=assignment)
    shown = page(as_director)
    assert f'href="/assignments/{assignment.pk}/desk/">Mark 1<' in shown


def test_sections_with_their_own_times_are_told_apart(as_director, band, at):
    flutes, oboes = (factories.make_section(band=band, name=name) for name in ("Flutes", "Oboes"))
    assignment = factories.make_assignment(band=band, sections=[flutes, oboes])
    assignment.postings.filter(section=oboes).update(due_at=factories.MONDAY + 4 * DAY)
    shown = page(as_director)
    assert "due Thursday 8 October, 7:00 am</b> <span>Period 2: Flutes</span>" in shown
    assert "due Friday 9 October, 7:00 am</b> <span>Period 2: Oboes</span>" in shown


def test_a_withdrawn_one_says_so_and_can_be_brought_back(as_director, assignment, at):
    assignment.withdrawn_at = at
    assignment.save(update_fields=["withdrawn_at"])
    shown = page(as_director)
    assert "withdrawn, students do not see it" in shown
    assert f'action="/assignments/{assignment.pk}/bring-back/"' in shown
    assert f'action="/assignments/{assignment.pk}/copy/"' not in shown


def test_earlier_school_years_have_their_own_lists(as_director, band, section, at):
    titled(band, section, "This year", days=1, at=at)
    titled(band, section, "Last year", days=-300, at=at)
    assert "Last year" not in page(as_director)
    shown = page(as_director, f"{LIST}?year=2025")
    assert "Last year" in shown
    assert "This year" not in shown
    assert "School year 2025–26" in shown
    assert f'href="{LIST}?year=2026">2026–27<' in shown


@pytest.mark.parametrize("year", ["", "soon", "-1", "99999", "٣"])
def test_a_year_that_is_none_shows_this_one(as_director, year):
    assert "School year 2026–27" in page(as_director, f"{LIST}?year={year}")


def test_closed_ones_come_a_page_at_a_time(as_director, band, section, at):
    for n in range(21):
        titled(band, section, f"Number {n:02d}", days=-10 - n / 10, at=at)
    first, second = page(as_director), page(as_director, f"{LIST}?page=2")
    assert ("Number 00" in first, "Number 20" in first) == (True, False)
    assert ("Number 00" in second, "Number 20" in second) == (False, True)
    assert "1 to 20 of 21 closed assignments" in first


def test_an_empty_year_says_what_to_do(as_director):
    shown = page(as_director)
    assert "Nothing was posted in this school year." in shown
    assert 'href="/assignments/new/"' in shown


def test_what_people_wrote_is_escaped(as_director, band):
    section = factories.make_section(band=band, name=HTML[:60])
    exercise = factories.make_exercise(band=band, title=HTML)
    factories.make_assignment(band=band, sections=[section], exercise=exercise)
    assert_escaped(as_director.get(LIST))


def test_a_substitute_sees_the_list_but_cannot_post_change_or_copy(as_substitute, assignment):
    shown = page(as_substitute)
    assert "Stepping Stones" in shown
    for way in ("/assignments/new/", "/edit/", "/copy/", "/band/policy/"):
        assert way not in shown


def test_strangers_see_nothing_of_it(as_stranger, assignment):
    assert "Stepping Stones" not in page(as_stranger)


def test_students_get_404_and_visitors_the_sign_in_page(as_student, visitor):
    assert statuses(LIST, as_student, visitor) == [404, 302]


def test_only_reading_is_allowed(as_director):
    assert as_director.post(LIST).status_code == 405


@pytest.mark.parametrize("rows", [1, 30])
def test_the_page_takes_the_same_queries_for_one_and_for_thirty(
    as_director, band, section, at, rows, django_assert_num_queries
):
    for n in range(rows):
        titled(band, section, f"Open {n}", days=1, at=at)
        titled(band, section, f"Closed {n}", days=-9, at=at)
    # Session, user, membership; the first ever posted; open ones with postings; closed ones counted,
    # with postings; what waits.
    with django_assert_num_queries(10):
        as_director.get(LIST)
