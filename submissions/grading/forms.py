"""What the desk's forms hold: one mark, the note, the whole sheet, an excuse, a phrase."""

from collections.abc import Iterator
from typing import Any

from django import forms

from submissions.grading import queries
from submissions.grading.drawing import bars_of
from submissions.grading.services.marks import NOT_YET, Given, ReturnNote
from submissions.models import Assignment, Phrase, TurnIn

STALE = "This page is older than the rubric; open it again."
NOTE_LENGTH = 1000
NOTE_TOO_LONG = f"Keep this part of the note under {NOTE_LENGTH} characters."


def first_error(form: forms.BaseForm) -> str:
    """One sentence for a page that has room for one."""
    return str(next(iter(form.errors.values()))[0])


class NoteForm(forms.Form):
    """The words to the student; every part may stay empty."""

    attempt = forms.IntegerField(min_value=1, error_messages={"required": STALE, "invalid": STALE})
    worked = forms.CharField(
        required=False, max_length=NOTE_LENGTH, error_messages={"max_length": NOTE_TOO_LONG}
    )
    next_step = forms.CharField(
        required=False, max_length=NOTE_LENGTH, error_messages={"max_length": NOTE_TOO_LONG}
    )
    look_at = forms.ChoiceField(
        required=False, error_messages={"invalid_choice": "That bar is not in this exercise; choose another."}
    )

    def __init__(self, *args: Any, assignment: Assignment, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        lines = [line for line in assignment.exercise.lines.all() if line.label in assignment.lines]
        places = [f"{line.label}{bar}" for line in lines for bar in bars_of(line)]
        field = self.fields["look_at"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101 - declared above
        field.choices = [("", ""), *((place, place) for place in places)]

    @property
    def note(self) -> ReturnNote:
        data = self.cleaned_data
        return ReturnNote(data["worked"].strip(), data["next_step"].strip(), data["look_at"])


class SheetForm(NoteForm):
    """All that one student's page holds: a step for every criterion of every line, and the note."""

    def __init__(self, *args: Any, assignment: Assignment, **kwargs: Any) -> None:
        super().__init__(*args, assignment=assignment, **kwargs)
        self.steps = queries.steps_of(assignment=assignment)
        self.lines = assignment.lines
        for line in self.lines:
            for criterion, levels in self.steps.items():
                self.fields[f"mark-{line}-{criterion.pk}"] = forms.ChoiceField(
                    choices=[("", ""), (NOT_YET, ""), *((str(level.pk), "") for level in levels)],
                    required=False,
                    error_messages={"invalid_choice": STALE},
                )
                self.fields[f"seen-{line}-{criterion.pk}"] = forms.CharField(required=False, max_length=20)

    def given(self) -> Iterator[Given]:
        """The chosen steps; a criterion that was left alone is left out."""
        for line in self.lines:
            for criterion, levels in self.steps.items():
                key = self.cleaned_data[f"mark-{line}-{criterion.pk}"]
                if not key:
                    continue
                yield Given(
                    line=line,
                    criterion=criterion,
                    level=next((level for level in levels if str(level.pk) == key), None),
                    seen=self.cleaned_data[f"seen-{line}-{criterion.pk}"],
                )


class ExcuseForm(forms.Form):
    reason = forms.CharField(
        required=False,
        max_length=200,
        error_messages={"max_length": "Keep the reason under 200 characters."},
    )


class LiveForm(forms.Form):
    """How a student with nothing in is marked."""

    route = forms.ChoiceField(
        choices=[(TurnIn.Route.CHECK_IN, "played live"), (TurnIn.Route.PAPER, "on paper")],
        error_messages={"required": "Choose live or paper.", "invalid_choice": "Choose live or paper."},
    )


class PhraseForm(forms.ModelForm[Phrase]):
    """A new phrase is told what its two parts are for; one that is there shows it."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            for field in self.fields.values():
                field.help_text = ""

    class Meta:
        model = Phrase
        fields = ("label", "text")
        help_texts = {  # noqa: RUF012 - Django reads it once
            "label": "Short, as on the button: “name it first”.",
            "text": "What is written into the note when you press it.",
        }
        labels = {"label": "Button", "text": "Words"}  # noqa: RUF012 - as above
