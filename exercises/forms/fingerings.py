"""One fingering as the director corrects or adds it, and the band's switches."""

from collections.abc import Mapping
from typing import Any

from django import forms

from exercises.models import PartPolicy
from exercises.music.fingering_tables import FingeringKind, FingeringRow
from exercises.music.keywork import KEYWORK
from exercises.pages.fingerings import SWITCHES

VALVES = (("1", "valve 1"), ("2", "valve 2"), ("3", "valve 3"))
FOURTH = ("4", "valve 4")
THUMB = ("T", "thumb trigger")
POSITIONS = tuple((str(number), f"position {number}") for number in range(1, 8))


class FingeringForm(forms.Form):
    """Keys as boxes to tick, in the order in which they are said."""

    keys = forms.MultipleChoiceField(
        label="What is pressed",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"invalid_choice": "Choose from the keys of this instrument."},
    )
    when = forms.CharField(
        label="When to use it",
        required=False,
        max_length=200,
        error_messages={"max_length": "Say it in at most %(limit_value)d letters."},
    )
    hint = forms.CharField(
        label="A hint for students",
        required=False,
        max_length=200,
        error_messages={"max_length": "Say it in at most %(limit_value)d letters."},
    )

    def __init__(self, data: Mapping[str, Any] | None = None, *, row: FingeringRow, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.row = row
        keys = self.fields["keys"]
        assert isinstance(keys, forms.MultipleChoiceField)  # noqa: S101 - for the type checker
        keys.choices = list(key_choices(row))
        if row.kind is FingeringKind.SLIDE:
            keys.label = "Position"
        elif row.kind is FingeringKind.VALVES:
            keys.label = "Valves (none for open)"

    def clean_keys(self) -> list[str]:
        chosen: list[str] = self.cleaned_data["keys"]
        positions = [key for key in chosen if key != "T"]
        if self.row.kind is FingeringKind.SLIDE and len(positions) != 1:
            raise forms.ValidationError("Choose one position.")
        return chosen


def key_choices(row: FingeringRow) -> tuple[tuple[str, str], ...]:
    """Keys that this kind of instrument has, with their words."""
    match row.kind:
        case FingeringKind.KEYS:
            return tuple((key.id, key.words) for key in KEYWORK[row.table])
        case FingeringKind.SLIDE:
            return (*POSITIONS, THUMB)
        case _:
            extra = (THUMB,) if row.table == "horn" else (FOURTH,) if row.table != "trumpet" else ()
            return (*VALVES, *extra)


class PartPolicyForm(forms.ModelForm[PartPolicy]):
    """How the band's parts are made and taught."""

    switches = forms.MultipleChoiceField(
        label="Fingerings",
        required=False,
        choices=[(name, words) for name, (words, _) in SWITCHES.items()],
        widget=forms.CheckboxSelectMultiple,
        help_text="What your students have or learn first.",
    )

    class Meta:
        model = PartPolicy
        fields = ("courtesy_signs", "key_limit", "switches")
        labels = {"courtesy_signs": "Print reminder signs", "key_limit": "Most sharps or flats in a part"}  # noqa: RUF012
        help_texts = {  # noqa: RUF012 - Django's own form
            "courtesy_signs": "A sign in parentheses where a bar line has ended the sign before it.",
            "key_limit": "3 to 7. A part with more is written in the key that sounds the same.",
        }
        error_messages = {  # noqa: RUF012 - Django's own form
            "key_limit": {
                "min_value": "A part has room for 3 to 7 sharps or flats.",
                "max_value": "A part has room for 3 to 7 sharps or flats.",
                "invalid": "Give a number from 3 to 7.",
                "required": "Give a number from 3 to 7.",
            }
        }
