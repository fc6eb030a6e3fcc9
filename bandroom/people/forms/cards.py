"""Whose sign-in cards are printed, and on which paper."""

from typing import Any, cast

from django import forms

from bandroom.people.models import Band
from bandroom.people.paper import Paper
from bandroom.people.queries import MemberPlace

# What one request can hash and lay out well within a server's patience (about 0.07 s a card, measured).
MOST_CARDS = 160


class CardsForm(forms.Form):
    students = forms.TypedMultipleChoiceField(
        coerce=int,
        error_messages={
            "required": "Tick at least one student.",
            "invalid_choice": "A student has left the band in the meantime: reload and choose again.",
        },
    )
    paper = forms.TypedChoiceField(
        label="Paper",
        choices=Paper.choices,
        coerce=Paper,
        widget=forms.Select(attrs={"form": "cards"}),  # it stands in the dock, outside of the form's element
    )

    def __init__(self, data: Any = None, *, band: Band, places: tuple[MemberPlace, ...]) -> None:
        super().__init__(data, initial={"paper": Paper.usual_in(band.time_zone)})
        students = cast(forms.TypedMultipleChoiceField, self.fields["students"])
        students.choices = [(place.membership.pk, place.membership.user.full_name) for place in places]

    def clean_students(self) -> list[int]:
        chosen: list[int] = self.cleaned_data["students"]
        if len(chosen) > MOST_CARDS:
            raise forms.ValidationError(
                f"At most {MOST_CARDS} cards are printed at once: untick some and print them after."
            )
        return chosen
