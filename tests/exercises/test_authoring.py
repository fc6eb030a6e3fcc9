"""Writing exercises down and changing them: in place, or as a new version once posted."""

from datetime import datetime

import pytest

from bandroom.people.models import Band, Membership, Section
from exercises.models import Exercise, PartChoice
from exercises.music.notation import parse_notation
from exercises.music.part import to_concert
from exercises.music.score import FOUR_FOUR, Line
from exercises.parts import part_of
from exercises.services import exercises as exercise_services
from exercises.services.exercises import AuthoringError, DraftLine, ExerciseDraft
from tests import factories

pytestmark = pytest.mark.django_db


def line(label: str, text: str, fifths: int = -2) -> Line:
    return parse_notation(text, label=label, metre=FOUR_FOUR, fifths=fifths)


def draft(
    *, title: str = "Rungs", a: str = "Bb3:4", b: str = "C4 C4 C4 C4", written_for: str = ""
) -> ExerciseDraft:
    return ExerciseDraft(
        title=title,
        source=Exercise.Source.TYPED,
        lines=(DraftLine(line("A", a), "halves", 66), DraftLine(line("B", b), "", 80)),
        written_for=written_for,
    )


def test_a_draft_becomes_an_exercise_with_its_lines(band: Band, director: Membership, at: datetime) -> None:
    exercise = exercise_services.create_exercise(band=band, draft=draft(), by=director.user, at=at)
    exercise.refresh_from_db()
    assert (exercise.title, exercise.concert_fifths, exercise.metre_beats) == ("Rungs", -2, 4)
    assert [(row.label, row.caption, row.tempo_bpm, row.order) for row in exercise.lines.all()] == [
        ("A", "halves", 66, 0),
        ("B", "", 80, 1),
    ]
    assert exercise.created_by == director.user


def test_what_was_written_for_an_instrument_stays_where_its_players_saw_it(
    band: Band, director: Membership, at: datetime
) -> None:
    """E4 on an alto sax is low for its range; the engine alone would not have kept it there."""
    written = line("A", "B4:4 | C5:4", fifths=1)
    concert = to_concert(written, "alto_sax")
    made = exercise_services.create_exercise(
        band=band,
        draft=ExerciseDraft(
            "Low", Exercise.Source.TYPED, (DraftLine(concert, "", 72),), written_for="alto_sax"
        ),
        by=director.user,
        at=at,
    )
    part = part_of(line=made.lines.get(), instrument="alto_sax")
    assert [note.pitch.name for note in part.line.notes if note.pitch] == ["B4", "C5"]
    assert part.octaves == 0


def test_an_exercise_that_nobody_has_is_changed_in_place(
    exercise: Exercise, director: Membership, at: datetime
) -> None:
    saved = exercise_services.change_exercise(exercise=exercise, draft=draft(), by=director.user, at=at)
    assert saved.pk == exercise.pk
    assert Exercise.objects.count() == 1
    assert Exercise.objects.get().title == "Rungs"
    assert [row.score["bars"][0][0]["pitch"] for row in saved.lines.all()] == ["Bb3", "C4"]


def test_a_posted_exercise_keeps_its_notes_and_is_replaced(
    exercise: Exercise, band: Band, section: Section, director: Membership, at: datetime
) -> None:
    assignment = factories.make_assignment(band=band, sections=[section], exercise=exercise)
    before = [row.score for row in exercise.lines.all()]
    newer = exercise_services.change_exercise(exercise=exercise, draft=draft(), by=director.user, at=at)
    assert newer.pk != exercise.pk
    exercise.refresh_from_db()
    assert exercise.replaced_by == newer
    assert [row.score for row in exercise.lines.all()] == before
    assignment.refresh_from_db()
    assert assignment.exercise == exercise
    assert list(Exercise.objects.current()) == [newer]
    assert exercise_services.newest_version(exercise) == newer


def test_an_old_version_is_not_changed_again(
    exercise: Exercise, band: Band, section: Section, director: Membership, at: datetime
) -> None:
    factories.make_assignment(band=band, sections=[section], exercise=exercise)
    exercise_services.change_exercise(exercise=exercise, draft=draft(), by=director.user, at=at)
    with pytest.raises(AuthoringError, match="newer version"):
        exercise_services.change_exercise(
            exercise=exercise, draft=draft(title="Lost"), by=director.user, at=at
        )
    assert not Exercise.objects.filter(title="Lost").exists()


def test_decisions_about_a_line_outlive_a_change_of_another(
    exercise: Exercise, band: Band, section: Section, director: Membership, at: datetime
) -> None:
    factories.make_assignment(band=band, sections=[section], exercise=exercise)
    PartChoice.objects.create(
        exercise=exercise,
        instrument="trumpet",
        octave=1,
        accepted_outside=True,
        left_out={"A": [1], "B": [2]},
        instead={"B": {"3": "C5"}},
    )
    kept_a = exercise.lines.get(label="A").score
    changed = ExerciseDraft(
        "Rungs",
        Exercise.Source.TYPED,
        (
            DraftLine(line("A", "Bb3:2 C4 | D4 Bb3"), "", 72),
            DraftLine(line("B", "D4 D4 D4 D4"), "", 72),
        ),
    )
    newer = exercise_services.change_exercise(exercise=exercise, draft=changed, by=director.user, at=at)
    assert newer.lines.get(label="A").score == kept_a
    choice = newer.part_choices.get()
    assert (choice.octave, choice.left_out, choice.instead) == (1, {"A": [1]}, {})
    assert choice.accepted_outside is False
    assert exercise.part_choices.get().accepted_outside is True


def test_an_exercise_is_put_away_once_and_taken_out_once(exercise: Exercise, at: datetime) -> None:
    assert exercise_services.put_away(exercise=exercise, at=at) is True
    assert exercise_services.put_away(exercise=exercise, at=at) is False
    assert not Exercise.objects.current().exists()
    assert exercise_services.take_out(exercise=exercise) is True
    assert exercise_services.take_out(exercise=exercise) is False
    assert Exercise.objects.current().get() == exercise
