"""One decision about a part, as a button sends it."""

from enum import StrEnum

from django import forms

from exercises.forms.writing import LABELS


class PartDecision(StrEnum):
    UP = "up"
    DOWN = "down"
    ENGINE = "engine"
    ACCEPT = "accept"
    TAKE_BACK = "take-back"
    LEAVE_OUT = "leave-out"
    INSTEAD = "instead"
    AS_WRITTEN = "as-written"


class DecisionForm(forms.Form):
    do = forms.TypedChoiceField(
        coerce=PartDecision, choices=[(each.value, each.value) for each in PartDecision]
    )
    line = forms.ChoiceField(choices=[(label, label) for label in LABELS], required=False)
    index = forms.IntegerField(min_value=0, max_value=1000, required=False)
    pitch = forms.CharField(
        max_length=6, required=False, error_messages={"max_length": "Write one note name, for example Bb4."}
    )
