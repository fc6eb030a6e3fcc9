"""Changing what was posted, as a page. What is refused and why is proved in test_services.py."""

from datetime import UTC, datetime, timedelta

import pytest

from submissions.models import Assignment
from tests import factories
from tests.submissions.assigning.pages import HTML, assert_escaped, said, statuses
from tests.submissions.assigning.rows import make_mark, make_turn_in

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("on_tuesday")]


@pytest.fixture
def url(assignment):
    return f"/assignments/{assignment.pk}/edit/"


@pytest.fixture
def as_it_is(assignment):
    """The form as it arrives: opens Monday 7 am, due Thursday 7 am, closes the Monday after."""
    posting = assignment.postings.get()
    return {
        "sections": [posting.section_id],
        "opens": "2026-10-05T07:00",
        "due": "2026-10-08T07:00",
        "closes": "2026-10-12T07:00",
        "lines": ["A", "B"],
        "tempo-A": "72",
        "tempo-B": "72",
        "routes": "either",
        "rubric": assignment.rubric_id,
        "note": "",
    }


def test_the_form_arrives_as_it_was_posted(as_director, url, as_it_is):
    form = as_director.get(url).context["form"]
    arrived = {name: form[name].value() for name in as_it_is}
    assert {name: str(value) for name, value in arrived.items()} == {
        name: str(value) for name, value in as_it_is.items()
    }


def test_saving_it_unchanged_changes_nothing(as_director, assignment, url, as_it_is):
    def rows():
        return (
            Assignment.objects.filter(pk=assignment.pk).values().get(),
            list(assignment.postings.values()),
        )

    before = rows()
    assert as_director.post(url, as_it_is).status_code == 302
    assert rows() == before


def test_a_stored_instant_that_the_clock_shows_twice_stays_the_same_when_saved_unchanged(
    as_director, assignment, url, as_it_is
):
    # The first 1:30 am of Sunday 1 November 2026 in Chicago, UTC-5; a new deadline would mean the second.
    first = datetime(2026, 11, 1, 6, 30, tzinfo=UTC)
    assignment.postings.update(due_at=first, closes_at=first + timedelta(days=2))
    as_it_is |= {"due": "2026-11-01T01:30", "closes": "2026-11-03T00:30"}
    assert as_director.post(url, as_it_is).status_code == 302
    assert assignment.postings.get().due_at == first


def test_a_deadline_moves(as_director, assignment, url, as_it_is):
    response = as_director.post(url, as_it_is | {"due": "2026-10-09T16:00"})
    assert (response.status_code, response.url) == (302, "/assignments/")
    assert assignment.postings.get().due_at == datetime(2026, 10, 9, 21, 0, tzinfo=UTC)
    assert said(response) == ["No. 1, Stepping Stones is changed; students see it as it is now."]


def test_a_deadline_that_has_passed_may_stay_but_not_be_chosen(as_director, assignment, url, as_it_is):
    past = datetime(2026, 10, 6, 12, 0, tzinfo=UTC)  # this morning, 7 am
    assignment.postings.update(due_at=past)
    assert as_director.post(url, as_it_is | {"due": "2026-10-06T07:00", "note": "x"}).status_code == 302
    response = as_director.post(url, as_it_is | {"due": "2026-10-06T08:00"})
    assert response.status_code == 422
    assert dict(response.context["form"].errors) == {
        "due": ["This time has passed already; choose a later one."]
    }


def test_times_of_one_section_stay_its_own(as_director, band, assignment, section, url, as_it_is):
    other = factories.make_section(band=band, period="5")
    third = factories.make_section(band=band, period="7")
    for added in (other, third):
        posting = assignment.postings.get(section=section)
        posting.pk, posting.section = None, added
        posting.save()
    own = datetime(2026, 10, 9, 21, 0, tzinfo=UTC)
    assignment.postings.filter(section=other).update(due_at=own)

    form = as_director.get(url).context["form"]
    assert form[f"due-{other.pk}"].value() == "2026-10-09T16:00"
    assert [form[name].value() for name in (f"due-{section.pk}", f"opens-{other.pk}")] == [None, None]

    as_it_is |= {"sections": [section.pk, other.pk, third.pk], f"due-{other.pk}": "2026-10-09T16:00"}
    assert as_director.post(url, as_it_is | {"due": "2026-10-07T20:00"}).status_code == 302
    wednesday = datetime(2026, 10, 8, 1, 0, tzinfo=UTC)
    assert {p.section: p.due_at for p in assignment.postings.all()} == {
        section: wednesday,
        other: own,
        third: wednesday,
    }


@pytest.mark.parametrize(
    ("different", "sentence"),
    [
        (
            {"lines": ["A"]},
            "Line B has work from one student, so it stays; "
            "withdraw the assignment if nobody should play it.",
        ),
        (
            {"sections": "other"},
            "Clarinets, period 2 has work from one student, so it stays; "
            "withdraw the assignment if nobody should see it.",
        ),
        (
            {"rubric": "other"},
            "Marks have been given with this rubric, so it stays; use the other one from the next time on.",
        ),
    ],
)
def test_what_would_take_work_away_is_refused_and_nothing_typed_is_lost(
    as_director, band, section, assignment, seat, url, as_it_is, different, sentence
):
    section.name = "Clarinets"
    section.save(update_fields=["name"])
    make_mark(turn_in=make_turn_in(seat=seat, assignment=assignment))
    others = {
        "sections": [factories.make_section(band=band).pk],
        "rubric": factories.make_rubric(band=band).pk,
    }
    changed = {name: others[name] if value == "other" else value for name, value in different.items()}
    response = as_director.post(url, as_it_is | {"note": "Typed just now."} | changed)
    assert response.status_code == 422
    assert response.context["form"].non_field_errors() == [sentence]
    assert "Typed just now." in response.content.decode()
    assignment.refresh_from_db()
    assert assignment.note == ""


def test_a_rubric_put_away_can_stay(as_director, assignment, url, as_it_is, at):
    assignment.rubric.put_away_at = at
    assignment.rubric.save(update_fields=["put_away_at"])
    assert as_director.post(url, as_it_is).status_code == 302


def test_html_in_every_text_is_escaped(as_director, assignment, url, as_it_is):
    assignment.note = HTML
    assignment.save(update_fields=["note"])
    assert_escaped(as_director.get(url))


def test_only_the_bands_directors_change_it(as_substitute, as_student, as_stranger, visitor, url):
    people = (as_substitute, as_student, as_stranger, visitor)
    assert statuses(url, *people) == [404, 404, 404, 302]
    assert statuses(url, *people, method="post") == [404, 404, 404, 401]


@pytest.mark.parametrize("method", ["put", "delete", "patch"])
def test_no_other_method_is_allowed(as_director, url, method):
    assert getattr(as_director, method)(url).status_code == 405
