"""Rubrics: the one a band starts with, and that no edit ever reaches marks already given."""

from datetime import timedelta

import pytest

from submissions.assigning import rubrics
from submissions.assigning.criteria import CriterionWords
from submissions.errors import Refused
from submissions.models import Criterion, Level, Mark, Rubric
from tests import factories
from tests.submissions.assigning.rows import make_mark, make_turn_in

pytestmark = pytest.mark.django_db
ONE = (CriterionWords(name="Breath", levels=("short", "long")),)
TWO = (*ONE, CriterionWords(name="Fingers", levels=("guessing", "mostly there", "sure")))


def levels_of(rubric):
    return {c.name: {level.value: level.words for level in c.levels.all()} for c in rubric.criteria.all()}


def test_a_band_starts_with_notes_rhythm_and_tone_in_four_levels_each(band, at):
    # Common practice in beginning band, no source; the wording is the project's own.
    rubric = rubrics.default_rubric(band=band, at=at)
    assert rubric.name == "Notes, rhythm, tone"
    assert rubric.created_at == at
    assert list(levels_of(rubric)) == ["Right notes", "Steady rhythm", "Tone and start of notes"]
    assert levels_of(rubric) == {
        "Right notes": {
            4: "all right, accidentals too",
            3: "one or two slips, fixed or isolated",
            2: "same note wrong several times",
            1: "many wrong or guessing",
        },
        "Steady rhythm": {
            4: "steady with the count-off, all lengths right",
            3: "steady, one or two lengths wrong",
            2: "stops or speeds up more than once",
            1: "no steady beat yet",
        },
        "Tone and start of notes": {
            4: "clear, steady sound, clean tongue",
            3: "mostly clear",
            2: "often airy or unclear",
            1: "sound does not start reliably",
        },
    }


def test_no_level_says_not_yet_and_none_is_zero(band, at):
    rubric = rubrics.default_rubric(band=band, at=at)
    levels = Level.objects.filter(criterion__rubric=rubric)
    assert levels.count() == 12
    assert not levels.filter(words__icontains="not yet").exists()
    assert not levels.filter(value=0).exists()


def test_the_standard_rubric_is_made_once_for_each_band(band, at):
    first = rubrics.default_rubric(band=band, at=at)
    assert rubrics.default_rubric(band=band, at=at + timedelta(days=1)) == first
    other = rubrics.default_rubric(band=factories.make_band(), at=at)
    assert other != first
    assert Rubric.objects.count() == 2


def test_a_new_assignment_starts_with_the_rubric_used_last(band, section, at):
    older = rubrics.write_rubric(band=band, name="Older", criteria=ONE, at=at)
    newer = rubrics.write_rubric(band=band, name="Newer", criteria=ONE, at=at + timedelta(days=1))
    assert rubrics.default_rubric(band=band, at=at) == newer
    factories.make_assignment(band=band, sections=[section], rubric=older)
    assert rubrics.default_rubric(band=band, at=at) == older


def test_a_rubric_put_away_is_not_what_a_new_assignment_starts_with(band, at):
    away = rubrics.write_rubric(band=band, name="Away", criteria=ONE, at=at)
    rubrics.put_away(rubric=away, at=at)
    assert rubrics.default_rubric(band=band, at=at).name == "Notes, rhythm, tone"


def test_a_rubric_nobody_has_seen_is_changed_in_place(band, at):
    rubric = rubrics.write_rubric(band=band, name="Mine", criteria=ONE, at=at)
    changed = rubrics.edit_rubric(rubric=rubric, name="Ours", criteria=TWO, at=at)
    assert (changed.pk, changed.name) == (rubric.pk, "Ours")
    assert levels_of(changed) == {
        "Breath": {1: "short", 2: "long"},
        "Fingers": {1: "guessing", 2: "mostly there", 3: "sure"},
    }
    assert (Criterion.objects.count(), Level.objects.count()) == (2, 5)


def test_a_posted_rubric_is_copied_on_edit_and_put_away(band, section, at):
    rubric = rubrics.write_rubric(band=band, name="Mine", criteria=ONE, at=at)
    assignment = factories.make_assignment(band=band, sections=[section], rubric=rubric)

    changed = rubrics.edit_rubric(rubric=rubric, name="Mine", criteria=TWO, at=at + timedelta(hours=1))

    assert changed.pk != rubric.pk
    rubric.refresh_from_db()
    assignment.refresh_from_db()
    assert rubric.put_away_at == at + timedelta(hours=1)
    assert changed.put_away_at is None
    assert assignment.rubric == rubric
    assert levels_of(rubric) == {"Breath": {1: "short", 2: "long"}}


def test_marks_stand_under_the_words_they_were_given_with(band, seat, at):
    rubric = factories.make_rubric(band=band)
    assignment = factories.make_assignment(band=band, sections=[seat.section], rubric=rubric)
    mark = make_mark(turn_in=make_turn_in(seat=seat, assignment=assignment))
    before = (mark.criterion.name, mark.level.value, mark.level.words)

    rubrics.edit_rubric(rubric=rubric, name="Short lines", criteria=ONE, at=at)

    mark = Mark.objects.get()
    assert (mark.criterion.name, mark.level.value, mark.level.words) == before
    assert mark.criterion.rubric == assignment.rubric


def test_a_new_name_alone_needs_no_copy(band, section, at):
    rubric = rubrics.write_rubric(band=band, name="Mine", criteria=ONE, at=at)
    factories.make_assignment(band=band, sections=[section], rubric=rubric)
    assert rubrics.edit_rubric(rubric=rubric, name="Ours", criteria=ONE, at=at).pk == rubric.pk
    rubric.refresh_from_db()
    assert (rubric.name, rubric.put_away_at) == ("Ours", None)


def test_a_copy_has_the_same_words_and_a_name_that_fits(band, at):
    rubric = rubrics.write_rubric(band=band, name="x" * 80, criteria=TWO, at=at)
    copied = rubrics.copy_rubric(rubric=rubric, at=at)
    assert copied.name == "x" * 74 + ", copy"
    assert levels_of(copied) == levels_of(rubric)


def test_put_away_and_take_out_each_happen_once(band, at):
    rubric = rubrics.write_rubric(band=band, name="Mine", criteria=ONE, at=at)
    with pytest.raises(Refused):
        rubrics.take_out(rubric=rubric)
    rubrics.put_away(rubric=rubric, at=at)
    with pytest.raises(Refused):
        rubrics.put_away(rubric=rubric, at=at + timedelta(days=1))
    rubric.refresh_from_db()
    assert rubric.put_away_at == at
    rubrics.take_out(rubric=rubric)
    rubric.refresh_from_db()
    assert rubric.put_away_at is None


def criterion(name="Breath", levels=2):
    return CriterionWords(name=name, levels=tuple(f"level {n}" for n in range(1, levels + 1)))


@pytest.mark.parametrize(
    ("criteria", "sentence"),
    [
        ([], "Name at least one thing to judge, such as right notes."),
        (
            [criterion(name=f"Thing {n}") for n in range(6)],
            "A short line is judged by 5 things at most; leave some out.",
        ),
        (
            [criterion(name="")],
            "One of the things to judge has levels but no name; name it or clear its levels.",
        ),
        ([criterion(levels=1)], "“Breath” needs 2 to 6 levels; it has 1."),
        ([criterion(levels=7)], "“Breath” needs 2 to 6 levels; it has 7."),
        ([criterion(), criterion(name="BREATH")], "“BREATH” is there twice; give one of them another name."),
        (
            [CriterionWords(name="Breath", levels=("short", "", "long"))],
            "“Breath” has a level without words between others; fill it or close the gap.",
        ),
    ],
)
def test_a_rubric_that_cannot_be_used_is_refused_in_one_sentence(band, at, criteria, sentence):
    with pytest.raises(Refused) as caught:
        rubrics.write_rubric(band=band, name="Mine", criteria=criteria, at=at)
    assert caught.value.sentence == sentence
    assert Rubric.objects.count() == 0


@pytest.mark.parametrize(("things", "levels"), [(1, 2), (1, 6), (5, 2), (5, 6)])
def test_the_smallest_and_the_largest_rubric_are_fine(band, at, things, levels):
    criteria = [criterion(name=f"Thing {n}", levels=levels) for n in range(things)]
    rubric = rubrics.write_rubric(band=band, name="Mine", criteria=criteria, at=at)
    assert rubrics.words_of(rubric) == tuple(criteria)
