"""Writing an exercise down, changing it, putting it away. Each move is one transaction."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction

from bandroom.people.models import Band, User
from exercises.models import Exercise, ExerciseLine, PartChoice
from exercises.music.score import Line, line_to_json


class AuthoringError(ValueError):
    """A change that cannot be made; the message is a sentence for the director."""


@dataclass(frozen=True, slots=True)
class DraftLine:
    """One line as it will be stored. `line` is in concert pitch and carries the label."""

    line: Line
    caption: str
    tempo: int


@dataclass(frozen=True, slots=True)
class ExerciseDraft:
    """An exercise as the director wrote it, checked.

    written_for  the instrument whose written notes these were; its part keeps the octave as written
    """

    title: str
    source: Exercise.Source
    lines: tuple[DraftLine, ...]
    written_for: str = ""


@transaction.atomic
def create_exercise(*, band: Band, draft: ExerciseDraft, by: User, at: datetime) -> Exercise:
    exercise = Exercise.objects.create(band=band, created_by=by, created_at=at, **_head(draft))
    _write_lines(exercise, draft)
    _keep_octave_as_written(exercise, draft)
    return exercise


@transaction.atomic
def change_exercise(*, exercise: Exercise, draft: ExerciseDraft, by: User, at: datetime) -> Exercise:
    """Change an exercise in place, or, once it is posted, make the version that replaces it.

    Returns the exercise that holds the draft. Raises AuthoringError if a newer version exists.
    """
    # The lock holds off a posting that would slip in between the question and the change.
    current = Exercise.objects.select_for_update().get(pk=exercise.pk)
    if current.replaced_by_id is not None:
        raise AuthoringError("There is a newer version of this exercise: change that one.")
    before = {line.label: line.score for line in current.lines.all()}
    if not current.is_posted():
        for name, value in _head(draft).items():
            setattr(current, name, value)
        current.save(update_fields=list(_head(draft)))
        current.lines.all().delete()
        _write_lines(current, draft)
        _keep_choices(current, current, changed=_changed(before, draft))
        _keep_octave_as_written(current, draft)
        return current
    newer = create_exercise(band=current.band, draft=draft, by=by, at=at)
    _keep_choices(current, newer, changed=_changed(before, draft))
    current.replaced_by = newer
    current.save(update_fields=["replaced_by"])
    return newer


def put_away(*, exercise: Exercise, at: datetime) -> bool:
    """Take it off the list; assignments that have it keep it. False if it was put away already."""
    kept = Exercise.objects.filter(pk=exercise.pk, put_away_at__isnull=True)
    return kept.update(put_away_at=at) == 1


def take_out(*, exercise: Exercise) -> bool:
    """Back to the list. False if it was there already."""
    away = Exercise.objects.filter(pk=exercise.pk, put_away_at__isnull=False)
    return away.update(put_away_at=None) == 1


def newest_version(exercise: Exercise) -> Exercise:
    """The version that replaced this one, and the one that replaced that, to the last."""
    seen = {exercise.pk}
    while exercise.replaced_by is not None and exercise.replaced_by.pk not in seen:
        exercise = exercise.replaced_by
        seen.add(exercise.pk)
    return exercise


def _head(draft: ExerciseDraft) -> dict[str, Any]:
    first = draft.lines[0].line
    return {
        "title": draft.title,
        "metre_beats": first.metre.beats,
        "metre_unit": first.metre.unit,
        "concert_fifths": first.fifths,
        "source": draft.source,
    }


def _write_lines(exercise: Exercise, draft: ExerciseDraft) -> None:
    ExerciseLine.objects.bulk_create(
        ExerciseLine(
            exercise=exercise,
            label=drafted.line.label,
            order=order,
            caption=drafted.caption,
            tempo_bpm=drafted.tempo,
            score=line_to_json(drafted.line),
        )
        for order, drafted in enumerate(draft.lines)
    )


def _changed(before: Mapping[str, Any], draft: ExerciseDraft) -> frozenset[str]:
    """Labels of lines whose notes are not what they were."""
    after = {drafted.line.label: line_to_json(drafted.line) for drafted in draft.lines}
    return frozenset(label for label in before.keys() | after.keys() if before.get(label) != after.get(label))


def _keep_choices(old: Exercise, new: Exercise, *, changed: frozenset[str]) -> None:
    """Octaves stay. What was said about single notes stays where the line did; a yes to notes outside the
    range was given for the notes as they were, so any change asks for it again."""
    for choice in old.part_choices.all():
        PartChoice.objects.update_or_create(
            exercise=new,
            instrument=choice.instrument,
            defaults={
                "octave": choice.octave,
                "accepted_outside": choice.accepted_outside and not changed,
                "left_out": {k: v for k, v in choice.left_out.items() if k not in changed},
                "instead": {k: v for k, v in choice.instead.items() if k not in changed},
            },
        )


def _keep_octave_as_written(exercise: Exercise, draft: ExerciseDraft) -> None:
    """Notes that were written for an instrument stay where its players saw them."""
    if draft.written_for:
        PartChoice.objects.update_or_create(
            exercise=exercise, instrument=draft.written_for, defaults={"octave": 0}
        )
