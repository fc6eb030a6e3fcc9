"""A rubric as a form: up to five things to judge, each with two to six levels, in the director's words."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django import forms

from bandroom.people.forms.fields import OneLineField
from submissions.assigning.criteria import MOST_CRITERIA, MOST_LEVELS, CriterionWords, check
from submissions.errors import Refused
from submissions.models import Criterion, Level, Rubric


@dataclass(frozen=True, slots=True)
class CriterionBoxes:
    """One criterion on the page. `is_spare`: empty, shown only when asked for."""

    number: int
    name: forms.BoundField
    levels: tuple[forms.BoundField, ...]
    is_spare: bool


class RubricForm(forms.Form):
    name = OneLineField(
        label="Name of the rubric",
        max_length=Rubric._meta.get_field("name").max_length,
        error_messages={"required": "Give the rubric a name, so that you find it again."},
    )

    def __init__(self, *args: Any, criteria: Sequence[CriterionWords] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for c in range(MOST_CRITERIA):
            words = criteria[c] if c < len(criteria) else CriterionWords(name="", levels=())
            self.fields[f"criterion-{c}"] = OneLineField(
                label="What is judged",
                max_length=Criterion._meta.get_field("name").max_length,
                required=False,
                initial=words.name,
            )
            for n in range(MOST_LEVELS):
                self.fields[f"level-{c}-{n + 1}"] = forms.CharField(
                    label=f"Level {n + 1}",
                    max_length=Level._meta.get_field("words").max_length,
                    required=False,
                    initial=words.levels[n] if n < len(words.levels) else "",
                    widget=forms.Textarea(attrs={"rows": 3}),
                )

    @property
    def boxes(self) -> list[CriterionBoxes]:
        """In order; spare ones at the end, but never the first."""
        found = []
        for c in range(MOST_CRITERIA):
            name = self[f"criterion-{c}"]
            levels = tuple(self[f"level-{c}-{n + 1}"] for n in range(MOST_LEVELS))
            filled = any(box.value() for box in (name, *levels))
            found.append(CriterionBoxes(number=c, name=name, levels=levels, is_spare=c > 0 and not filled))
        return found

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if self.errors:
            return data
        criteria = []
        for c in range(MOST_CRITERIA):
            levels = [data[f"level-{c}-{n + 1}"] for n in range(MOST_LEVELS)]
            while levels and not levels[-1]:
                levels.pop()
            name = data[f"criterion-{c}"]
            if name or levels:
                criteria.append(CriterionWords(name=name, levels=tuple(levels)))
        try:
            check(criteria)
        except Refused as refusal:
            raise forms.ValidationError(refusal.sentence) from refusal
        data["criteria"] = criteria
        return data
