"""Posting an exercise, as a page."""

from datetime import UTC, datetime

import pytest

from exercises.models import Exercise
from submissions.models import Allowance, Assignment, Rubric
from tests import factories
from tests.submissions.assigning.pages import HTML, assert_escaped, said, statuses

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("on_tuesday")]
POST = "/assignments/new/"


@pytest.fixture
def url(exercise):
    return f"{POST}?exercise={exercise.pk}"


@pytest.fixture
def rubric(band):
    return factories.make_rubric(band=band)


def errors(response):
    assert response.status_code == 422
    return {field: list(found) for field, found in response.context["form"].errors.items()}


def test_first_an_exercise_is_chosen(as_director, band, exercise):
    factories.make_exercise(band=band, title="Put away").delete()
    response = as_director.get(POST)
    assert f'href="{POST}?exercise={exercise.pk}"' in response.content.decode()
    assert "not posted yet" in response.content.decode()


def test_exercises_are_found_by_words_of_their_title(as_director, band, exercise):
    factories.make_exercise(band=band, title="Long tones")
    shown = as_director.get(f"{POST}?words=stepping").content.decode()
    assert "Stepping Stones" in shown
    assert "Long tones" not in shown
    assert "No exercise has these words" in as_director.get(f"{POST}?words=zzz").content.decode()


def test_only_current_exercises_are_offered(as_director, band, exercise, at):
    factories.make_exercise(band=band, title="Away")
    Exercise.objects.filter(title="Away").update(put_away_at=at)
    newer = factories.make_exercise(band=band, title="Newer version")
    Exercise.objects.filter(pk=exercise.pk).update(replaced_by=newer)
    shown = as_director.get(POST).content.decode()
    assert "Newer version" in shown
    assert "Away" not in shown
    assert "Stepping Stones" not in shown


def test_an_exercise_written_anew_leads_to_its_newest_version(as_director, band, exercise, url):
    newer = factories.make_exercise(band=band)
    Exercise.objects.filter(pk=exercise.pk).update(replaced_by=newer)
    response = as_director.get(url)
    assert (response.status_code, response.url) == (302, f"{POST}?exercise={newer.pk}")


def test_the_form_proposes_now_next_thursday_and_sunday(as_director, section, url):
    shown = as_director.get(url).content.decode()
    for value in ("2026-10-06T15:00", "2026-10-08T20:00", "2026-10-11T20:00"):
        assert f'value="{value}"' in shown


def test_the_form_proposes_all_lines_the_exercises_tempo_and_the_standard_rubric(as_director, section, url):
    form = as_director.get(url).context["form"]
    assert form["lines"].value() == ["A", "B"]
    assert [tempo.asked.value() for tempo in form.tempo_choices] == [72, 72]
    assert str(form.fields["rubric"].queryset.get()) == "Notes, rhythm, tone"


def test_it_posts_what_was_filled_in(as_director, director, band, section, exercise, rubric, url, filled_in):
    filled_in |= {"rubric": rubric.pk, "tempo-A": "66", "note": "Mind bar 2.", "routes": "recording"}
    response = as_director.post(url, filled_in)
    assert (response.status_code, response.url) == (302, "/week/")
    assignment = Assignment.objects.get()
    assert (assignment.band, assignment.exercise, assignment.rubric) == (band, exercise, rubric)
    assert (assignment.lines, assignment.tempos, assignment.note) == (["A", "B"], {"A": 66}, "Mind bar 2.")
    assert (assignment.routes, assignment.created_by) == ("recording", director.user)
    posting = assignment.postings.get()
    assert (posting.section, posting.opens_at) == (section, datetime(2026, 10, 6, 20, 0, tzinfo=UTC))
    assert posting.due_at == datetime(2026, 10, 9, 1, 0, tzinfo=UTC)
    assert posting.closes_at == datetime(2026, 10, 12, 1, 0, tzinfo=UTC)
    assert said(response) == ["No. 1, Stepping Stones is posted, due Thursday 8 October, 8:00 pm."]


def test_a_line_is_recorded_exactly_at_its_tempo_unless_a_range_is_given(as_director, rubric, url, filled_in):
    filled_in |= {"rubric": rubric.pk, "tempo-A": "66", "slowest-A": "60", "tempo-B": "72"}
    assert as_director.post(url, filled_in).status_code == 302
    assignment = Assignment.objects.get()
    assert assignment.tempo_ranges == {"A": [60, 66]}
    assert assignment.allowance_of("A", 72) == Allowance(asked=66, slowest=60, fastest=66)
    assert assignment.allowance_of("B", 72).is_exact
    form = as_director.get(f"/assignments/{assignment.pk}/edit/").context["form"]
    shown = [(one.asked.value(), one.slowest.value(), one.fastest.value()) for one in form.tempo_choices]
    assert shown == [(66, 60, 66), (72, None, None)]


def test_steps_can_come_before_recording_and_none_do_unless_asked(as_director, rubric, url, filled_in):
    as_director.post(url, filled_in | {"rubric": rubric.pk})
    as_director.post(url, filled_in | {"rubric": rubric.pk, "first_steps": ["names", "signs"]})
    free, strict = Assignment.objects.order_by("pk")
    assert (free.first_steps, strict.first_steps) == ([], ["signs", "names"])
    form = as_director.get(f"/assignments/{strict.pk}/edit/").context["form"]
    assert form["first_steps"].value() == ["signs", "names"]
    assert "first_steps" in errors(as_director.post(url, filled_in | {"first_steps": ["other"]}))


def test_a_range_that_leaves_out_the_tempo_is_refused(as_director, rubric, url, filled_in):
    filled_in |= {"rubric": rubric.pk, "tempo-A": "66", "slowest-A": "70", "fastest-A": "64"}
    assert errors(as_director.post(url, filled_in)) == {
        "slowest-A": ["Line A is asked for at 66; choose that or slower."],
        "fastest-A": ["Line A is asked for at 66; choose that or faster."],
    }
    assert Assignment.objects.count() == 0


def test_a_section_can_have_times_of_its_own(as_director, band, section, rubric, url, filled_in):
    other = factories.make_section(band=band, period="5")
    filled_in |= {
        "rubric": rubric.pk,
        "sections": [section.pk, other.pk],
        f"due-{other.pk}": "2026-10-09T16:00",
    }
    assert as_director.post(url, filled_in).status_code == 302
    windows = {p.section: (p.due_at, p.closes_at) for p in Assignment.objects.get().postings.all()}
    closes = datetime(2026, 10, 12, 1, 0, tzinfo=UTC)
    assert windows == {
        section: (datetime(2026, 10, 9, 1, 0, tzinfo=UTC), closes),
        other: (datetime(2026, 10, 9, 21, 0, tzinfo=UTC), closes),
    }


def test_a_time_that_the_clock_skips_is_refused_and_nothing_typed_is_lost(
    as_director, rubric, url, filled_in
):
    # Sunday 14 March 2027, 2 am to 3 am in Chicago (15 U.S.C. 260a).
    filled_in |= {
        "rubric": rubric.pk,
        "due": "2027-03-14T02:30",
        "closes": "2027-03-14T20:00",
        "note": "Still here.",
    }
    response = as_director.post(url, filled_in)
    assert errors(response) == {
        "due": [
            "The clock jumps from 2:00 am to 3:00 am on Sunday 14 March, so there is no 2:30 am; "
            "choose 3:00 am or later."
        ]
    }
    shown = response.content.decode()
    for kept in ("Still here.", 'value="2027-03-14T02:30"', 'value="2027-03-14T20:00"', "checked"):
        assert kept in shown
    assert Assignment.objects.count() == 0


def test_a_time_that_comes_twice_is_posted_as_the_page_states(as_director, rubric, url, filled_in):
    # Sunday 1 November 2026, 1:30 am comes at UTC-5 and again at UTC-6 in Chicago (15 U.S.C. 260a).
    assert "opening means the first and due and closing the second" in " ".join(
        as_director.get(url).content.decode().split()
    )
    twice = "2026-11-01T01:30"
    filled_in |= {"rubric": rubric.pk, "opens": twice, "due": twice, "closes": twice}
    response = as_director.post(url, filled_in)
    posting = Assignment.objects.get().postings.get()
    assert posting.opens_at == datetime(2026, 11, 1, 6, 30, tzinfo=UTC)
    assert (posting.due_at, posting.closes_at) == (datetime(2026, 11, 1, 7, 30, tzinfo=UTC),) * 2
    tail = "the clock shows that time twice, and the"
    assert said(response)[1:] == [
        f"Opens: {tail} first is meant (CDT), so that nobody loses time.",
        f"Due: {tail} second is meant (CST), so that nobody loses time.",
        f"Closes: {tail} second is meant (CST), so that nobody loses time.",
    ]


@pytest.mark.parametrize(
    ("different", "expected"),
    [
        ({"sections": []}, {"sections": ["Choose at least one section to post to."]}),
        ({"lines": []}, {"lines": ["Choose at least one line to ask for."]}),
        ({"due": ""}, {"due": ["Choose a day and a time."]}),
        ({"due": "Thursday"}, {"due": ["Write the day and the time like 2026-10-08 20:00."]}),
        ({"due": "12026-10-08T20:00"}, {"due": ["Write the day and the time like 2026-10-08 20:00."]}),
        ({"due": "0026-10-08T20:00"}, {"due": ["Write the day and the time like 2026-10-08 20:00."]}),
        ({"due": "2026-10-08T20:00Z"}, {"due": ["Write the day and the time like 2026-10-08 20:00."]}),
        (
            {"due": "2026-10-06T15:00"},
            {"due": ["It would be due before it opens; choose a later due time or an earlier opening."]},
        ),
        (
            {"opens": "2026-10-01T08:00", "due": "2026-10-06T15:00"},
            {"due": ["This time has passed already; choose a later one."]},
        ),
        (
            {"closes": "2026-10-08T19:59"},
            {"closes": ["It would close before it is due; choose a closing time at or after the due time."]},
        ),
        (
            {"closes": "2029-10-08T20:00"},
            {"closes": ["It would stay open for more than a year; look at the years of both times again."]},
        ),
        (
            {"tempo-A": "400"},
            {"tempo-A": ["Choose a tempo from 40 to 160 quarter notes a minute."]},
        ),
        ({"tempo-B": ""}, {"tempo-B": ["Choose a tempo from 40 to 160 quarter notes a minute."]}),
    ],
)
def test_what_is_wrong_is_said_at_its_field(as_director, rubric, url, filled_in, different, expected):
    response = as_director.post(url, filled_in | {"rubric": rubric.pk} | different)
    assert errors(response) == expected
    assert Assignment.objects.count() == 0


def test_what_is_wrong_with_a_sections_own_time_is_said_there(as_director, section, rubric, url, filled_in):
    own = f"due-{section.pk}"
    response = as_director.post(url, filled_in | {"rubric": rubric.pk, own: "2026-10-06T14:00"})
    assert list(errors(response)) == [own]
    assert b'<details class="fold" open>' in response.content


def test_what_belongs_to_another_band_cannot_be_chosen(as_director, url, filled_in):
    other = factories.make_band()
    theirs = {
        "sections": [factories.make_section(band=other).pk],
        "rubric": factories.make_rubric(band=other).pk,
    }
    assert set(errors(as_director.post(url, filled_in | theirs))) == {"sections", "rubric"}


def test_html_in_every_text_is_escaped(as_director, band, rubric, filled_in):
    section = factories.make_section(band=band, name=HTML[:60], period="<i>")
    Rubric.objects.filter(pk=rubric.pk).update(name=HTML)
    exercise = factories.make_exercise(band=band, title=HTML)
    exercise.lines.update(caption=HTML[:40])
    assert_escaped(as_director.get(POST))
    answer = as_director.post(
        f"{POST}?exercise={exercise.pk}",
        filled_in
        | {"sections": [section.pk], "rubric": rubric.pk, "note": HTML, "due": HTML, "tempo-A": HTML},
    )
    assert set(errors(answer)) == {"due", "tempo-A"}
    assert_escaped(answer)
    assert b"Period <i>" not in answer.content
    assert_escaped(as_director.get(f"{POST}?words={HTML}"))


@pytest.mark.parametrize("query", ["", "?exercise={pk}"])
def test_only_directors_post(as_substitute, as_student, visitor, exercise, query):
    url = POST + query.format(pk=exercise.pk)
    assert statuses(url, as_substitute, as_student, visitor) == [404, 404, 302]
    assert statuses(url, as_substitute, as_student, visitor, method="post") == [404, 404, 401]


def test_another_bands_exercise_is_not_found(as_stranger, url):
    assert statuses(url, as_stranger) == [404]
    assert statuses(url, as_stranger, method="post") == [404]


@pytest.mark.parametrize("pk", ["0", "abc", "-1", "9" * 30, "١"])
def test_an_exercise_that_is_none_is_not_found(as_director, pk):
    assert as_director.get(f"{POST}?exercise={pk}").status_code == 404


@pytest.mark.parametrize("method", ["put", "delete", "patch"])
def test_no_other_method_is_allowed(as_director, url, method):
    assert getattr(as_director, method)(url).status_code == 405


@pytest.mark.parametrize("sections", [1, 30])
def test_the_form_takes_the_same_queries_for_one_and_for_thirty_sections(
    as_director, band, rubric, exercise, url, sections, django_assert_num_queries
):
    for _ in range(sections):
        factories.make_seat(section=factories.make_section(band=band))
    # Session, user, membership; exercise and lines; the rubric to start with, in a transaction that
    # locks the band; sections; instruments; rubrics, which Django's own select box reads twice.
    as_director.get(url)
    with django_assert_num_queries(14):
        as_director.get(url)
