"""What the director decides about one part: another octave, a yes to notes outside the range, a note left
out or played otherwise. Each is one transaction; the part is made anew from what stands."""

from collections.abc import Callable

from django.db import transaction

from exercises.models import Exercise, ExerciseLine, PartChoice
from exercises.music.errors import MusicError
from exercises.music.instruments import instrument as instrument_of
from exercises.music.pitch import Pitch
from exercises.music.score import Line, held_together, line_from_json
from exercises.parts import part_of

#: Octave shifts a director can choose; beyond them nothing can be printed.
OCTAVES = range(-5, 6)


@transaction.atomic
def choose_octave(*, exercise: Exercise, instrument: str, octave: int | None) -> None:
    """Octave shift for all lines of the part; None gives the choice back to the engine.

    Notes that the director put in go along. A yes to notes outside was given in the old octave: it ends.
    Raises MusicError where a note would leave what can be printed.
    """
    if octave is not None and octave not in OCTAVES:
        raise MusicError("This octave is out of reach: choose another.")
    choice = _choice(exercise, instrument)
    before = _octave_now(exercise, instrument)
    choice.octave, choice.accepted_outside = octave, False
    choice.save(update_fields=["octave", "accepted_outside"])
    moved = _octave_now(exercise, instrument) - before
    choice.instead = {
        label: {index: Pitch.parse(name).octaves_up(moved).name for index, name in places.items()}
        for label, places in choice.instead.items()
    }
    choice.save(update_fields=["instead"])
    _check(exercise, instrument)


@transaction.atomic
def accept_outside(*, exercise: Exercise, instrument: str, accepted: bool) -> None:
    """Say that notes beyond the range stay in this part, or take that back."""
    choice = _choice(exercise, instrument)
    choice.accepted_outside = accepted
    choice.save(update_fields=["accepted_outside"])


@transaction.atomic
def leave_out(*, line: ExerciseLine, instrument: str, index: int) -> None:
    """The part rests at this note (and at what is tied to it)."""
    first = _first_of(line, index)

    def change(choice: PartChoice) -> None:
        left_out = set(choice.left_out.get(line.label, [])) | {first}
        choice.left_out = {**choice.left_out, line.label: sorted(left_out)}
        choice.instead = {**choice.instead, line.label: _without(choice.instead, line.label, first)}

    _change(line.exercise, instrument, change)


@transaction.atomic
def play_instead(*, line: ExerciseLine, instrument: str, index: int, pitch: Pitch) -> None:
    """The part plays this written pitch in place of its own."""
    first = _first_of(line, index)

    def change(choice: PartChoice) -> None:
        instead = {**_without(choice.instead, line.label, first), str(first): pitch.name}
        choice.instead = {**choice.instead, line.label: instead}
        kept = [other for other in choice.left_out.get(line.label, []) if other != first]
        choice.left_out = {**choice.left_out, line.label: kept}

    _change(line.exercise, instrument, change)


@transaction.atomic
def as_written(*, line: ExerciseLine, instrument: str, index: int) -> None:
    """The part plays this note of the line again."""
    first = _first_of(line, index)

    def change(choice: PartChoice) -> None:
        kept = [other for other in choice.left_out.get(line.label, []) if other != first]
        choice.left_out = {**choice.left_out, line.label: kept}
        choice.instead = {**choice.instead, line.label: _without(choice.instead, line.label, first)}

    _change(line.exercise, instrument, change)


def _choice(exercise: Exercise, instrument: str) -> PartChoice:
    """The row of this part, locked, so that two decisions at once do not lose one."""
    if not instrument_of(instrument).pitched:
        raise MusicError("A drum part has only the rhythm: there is nothing to decide.")
    PartChoice.objects.get_or_create(exercise=exercise, instrument=instrument)
    return PartChoice.objects.select_for_update().get(exercise=exercise, instrument=instrument)


def _change(exercise: Exercise, instrument: str, change: Callable[[PartChoice], None]) -> None:
    choice = _choice(exercise, instrument)
    change(choice)
    choice.save(update_fields=["left_out", "instead"])
    _check(exercise, instrument)


def _check(exercise: Exercise, instrument: str) -> None:
    """Every line must still give a part; a MusicError takes the whole decision back."""
    for line in Exercise.objects.for_parts().get(pk=exercise.pk).lines.all():
        part_of(line=line, instrument=instrument)


def _octave_now(exercise: Exercise, instrument: str) -> int:
    line = Exercise.objects.for_parts().get(pk=exercise.pk).lines.all()[0]
    return part_of(line=line, instrument=instrument).octaves


def _first_of(line: ExerciseLine, index: int) -> int:
    """Index of the note itself, or of the first of those it is tied to. Raises MusicError for no note."""
    read: Line = line_from_json(line.score)
    first = held_together(read, index)[0]
    if read.notes[first].is_rest:
        raise MusicError("There is a rest at this place: nothing is played there.")
    return first


def _without(stored: dict[str, dict[str, str]], label: str, index: int) -> dict[str, str]:
    return {key: name for key, name in stored.get(label, {}).items() if key != str(index)}
