"""Rubrics as pages: read, written, changed, copied, put away. What an edit does to marks: test_rubrics.py."""

import pytest

from submissions.assigning import rubrics
from submissions.models import Level, Rubric
from tests import factories
from tests.submissions.assigning.pages import HTML, assert_escaped, said, statuses

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("on_tuesday")]
RUBRICS, NEW = "/rubrics/", "/rubrics/new/"


def filled(name="Mine", **criteria):
    """The form: Breath=["short", "long"] and so on."""
    data = {"name": name}
    for c, (criterion, levels) in enumerate(criteria.items()):
        data[f"criterion-{c}"] = criterion
        data |= {f"level-{c}-{n}": words for n, words in enumerate(levels, 1)}
    return data


@pytest.fixture
def rubric(band):
    return factories.make_rubric(band=band)


@pytest.fixture
def edit(rubric):
    return f"/rubrics/{rubric.pk}/edit/"


def words_of(rubric):
    return {criterion.name: criterion.levels for criterion in rubrics.words_of(rubric)}


# Read ---------------------------------------------------------------------------------------------------


def test_a_band_without_rubrics_reads_the_standard_one(as_director):
    shown = as_director.get(RUBRICS).content.decode()
    assert "Notes, rhythm, tone" in shown
    assert "<b>4</b> steady with the count-off, all lengths right" in shown
    assert "not used yet" in shown


def test_those_put_away_stand_apart_and_can_be_taken_out(as_director, rubric, at):
    rubrics.put_away(rubric=rubric, at=at)
    shown = as_director.get(RUBRICS).content.decode()
    assert "Put away: 1" in shown
    assert f'action="/rubrics/{rubric.pk}/take-out/"' in shown


def test_a_substitute_reads_but_does_not_write(as_substitute, rubric):
    shown = as_substitute.get(RUBRICS).content.decode()
    assert "Short lines" in shown
    assert "/edit/" not in shown
    assert NEW not in shown


def test_rubrics_of_another_band_are_not_shown(as_stranger, rubric):
    assert "Short lines" not in as_stranger.get(RUBRICS).content.decode()


@pytest.mark.parametrize("count", [1, 30])
def test_reading_takes_the_same_queries_for_one_and_for_thirty(
    as_director, band, count, django_assert_num_queries
):
    for _ in range(count):
        factories.make_rubric(band=band)
    # Session, user, membership; the rubric to start with, in a transaction that locks the band; rubrics,
    # criteria, levels.
    with django_assert_num_queries(11):
        as_director.get(RUBRICS)


# Write --------------------------------------------------------------------------------------------------


def test_the_form_starts_with_the_standard_words(as_director):
    form = as_director.get(NEW).context["form"]
    assert [boxes.name.value() for boxes in form.boxes] == [
        "Right notes",
        "Steady rhythm",
        "Tone and start of notes",
        "",
        "",
    ]
    assert [boxes.is_spare for boxes in form.boxes] == [False, False, False, True, True]


def test_it_writes_what_was_filled_in(as_director, band):
    response = as_director.post(NEW, filled(Breath=["short", "long"], Fingers=["guessing", "sure", "quick"]))
    assert (response.status_code, response.url) == (302, RUBRICS)
    rubric = Rubric.objects.get()
    assert (rubric.band, rubric.name) == (band, "Mine")
    assert words_of(rubric) == {"Breath": ("short", "long"), "Fingers": ("guessing", "sure", "quick")}
    assert said(response) == ["“Mine” is ready for the next assignment."]


def test_five_criteria_of_six_levels_fit(as_director):
    levels = [f"level {n}" for n in range(1, 7)]
    assert as_director.post(NEW, filled(**{f"Thing {n}": levels for n in range(5)})).status_code == 302
    assert Level.objects.count() == 30


@pytest.mark.parametrize(
    ("data", "field", "sentence"),
    [
        (
            filled(name="", Breath=["short", "long"]),
            "name",
            "Give the rubric a name, so that you find it again.",
        ),
        (filled(), "__all__", "Name at least one thing to judge, such as right notes."),
        (filled(Breath=["short"]), "__all__", "“Breath” needs 2 to 6 levels; it has 1."),
        (
            filled(Breath=["short", "", "long"]),
            "__all__",
            "“Breath” has a level without words between others; fill it or close the gap.",
        ),
        (
            filled() | {"level-0-1": "short", "level-0-2": "long"},
            "__all__",
            "One of the things to judge has levels but no name; name it or clear its levels.",
        ),
    ],
)
def test_what_is_wrong_is_said_in_one_sentence_and_nothing_is_lost(as_director, data, field, sentence):
    response = as_director.post(NEW, data)
    assert response.status_code == 422
    assert dict(response.context["form"].errors) == {field: [sentence]}
    for typed in filter(None, data.values()):
        assert typed in response.content.decode()
    assert Rubric.objects.count() == 0


def test_words_that_are_too_long_are_refused_at_their_box(as_director):
    response = as_director.post(NEW, filled(Breath=["short", "x" * 121]))
    assert response.status_code == 422
    assert list(response.context["form"].errors) == ["level-0-2"]


# Change -------------------------------------------------------------------------------------------------


def test_a_rubric_not_posted_is_changed_in_place(as_director, rubric, edit):
    response = as_director.post(edit, filled(Breath=["short", "long"]))
    assert (response.status_code, response.url) == (302, RUBRICS)
    assert words_of(Rubric.objects.get()) == {"Breath": ("short", "long")}
    assert said(response) == ["“Mine” is changed."]


def test_a_posted_rubric_is_copied_and_the_page_says_so(as_director, band, section, rubric, edit):
    factories.make_assignment(band=band, sections=[section], rubric=rubric)
    before = words_of(rubric)
    shown = " ".join(as_director.get(edit).content.decode().split())
    assert "It was posted 1 time. Those assignments keep the words students saw" in shown
    response = as_director.post(edit, filled(Breath=["short", "long"]))
    assert said(response) == [
        "“Mine” is changed from the next assignment on; what was posted keeps its own words."
    ]
    assert words_of(rubric) == before
    assert words_of(Rubric.objects.exclude(pk=rubric.pk).get()) == {"Breath": ("short", "long")}


def test_the_form_arrives_with_the_words_as_they_are(as_director, edit):
    form = as_director.get(edit).context["form"]
    assert form["name"].value() == "Short lines"
    assert [level.value() for level in form.boxes[1].levels] == [
        *(f"Steady rhythm at {n}" for n in (1, 2, 3, 4)),
        "",
        "",
    ]


# Copy, put away, take out -------------------------------------------------------------------------------


def test_a_copy_opens_to_be_changed(as_director, rubric):
    response = as_director.post(f"/rubrics/{rubric.pk}/copy/")
    copied = Rubric.objects.exclude(pk=rubric.pk).get()
    assert (response.status_code, response.url) == (302, f"/rubrics/{copied.pk}/edit/")
    assert words_of(copied) == words_of(rubric)


def test_put_away_and_taken_out(as_director, rubric, at):
    response = as_director.post(f"/rubrics/{rubric.pk}/put-away/")
    assert said(response) == ["“Short lines” is put away; assignments that use it keep it."]
    rubric.refresh_from_db()
    assert rubric.put_away_at == at
    assert said(as_director.post(f"/rubrics/{rubric.pk}/put-away/"))[-1] == "This rubric is put away already."
    assert said(as_director.post(f"/rubrics/{rubric.pk}/take-out/"))[-1] == "“Short lines” can be used again."
    rubric.refresh_from_db()
    assert rubric.put_away_at is None


# Who and how --------------------------------------------------------------------------------------------


def test_html_in_every_text_is_escaped(as_director, band, at):
    wrong = filled(name=HTML, **{HTML: [HTML, HTML, "", HTML]})
    assert_escaped(as_director.post(NEW, wrong))
    rubric = rubrics.write_rubric(
        band=band,
        name=HTML,
        criteria=[rubrics.CriterionWords(name=HTML, levels=(HTML, f"{HTML} twice"))],
        at=at,
    )
    assert_escaped(as_director.get(RUBRICS))
    assert_escaped(as_director.get(f"/rubrics/{rubric.pk}/edit/"))


def test_students_and_visitors_read_no_rubrics(as_student, visitor):
    assert statuses(RUBRICS, as_student, visitor) == [404, 302]


def test_only_directors_write_new_ones(as_substitute, as_student, visitor):
    assert statuses(NEW, as_substitute, as_student, visitor) == [404, 404, 302]
    assert statuses(NEW, as_substitute, as_student, visitor, method="post") == [404, 404, 401]


@pytest.mark.parametrize("move", ["edit", "copy", "put-away", "take-out"])
def test_only_the_bands_directors_change_them(as_substitute, as_student, as_stranger, visitor, rubric, move):
    url = f"/rubrics/{rubric.pk}/{move}/"
    people = (as_substitute, as_student, as_stranger, visitor)
    assert statuses(url, *people, method="post") == [404, 404, 404, 401]
    if move == "edit":
        assert statuses(url, *people) == [404, 404, 404, 302]


@pytest.mark.parametrize("move", ["copy", "put-away", "take-out"])
def test_reading_an_address_moves_nothing(as_director, rubric, move):
    assert statuses(f"/rubrics/{rubric.pk}/{move}/", as_director) == [405]


def test_no_other_method_is_allowed(as_director, edit):
    assert as_director.post(RUBRICS).status_code == 405
    assert [as_director.delete(url).status_code for url in (NEW, edit)] == [405, 405]
