"""Erasing a student: the name-id is typed, so that it is never the wrong one."""

from typing import Any

from django import forms

from bandroom.people.name_ids import normal_name_id


class EraseForm(forms.Form):
    name_id = forms.CharField(
        label="Type the student’s name-id",
        max_length=60,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"}
        ),
    )

    def __init__(self, *args: Any, name_id: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.expected = name_id

    def clean_name_id(self) -> str:
        typed: str = self.cleaned_data["name_id"]
        if normal_name_id(typed) != self.expected:
            raise forms.ValidationError(f"This is not {self.expected}: nothing was erased.")
        return self.expected
