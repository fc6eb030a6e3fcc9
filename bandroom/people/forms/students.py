"""A student, a seat, who may record."""

from datetime import date
from typing import Any, cast

from django import forms

from bandroom.people.forms.fields import OneLineField
from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Membership, RecordingPermission, Seat, Section

NO_INSTRUMENT = ("", "Choose an instrument")


class SectionField(forms.ModelChoiceField[Section]):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(queryset=Section.objects.none(), label="Section", **kwargs)

    def of(self, band: Band) -> None:
        self.queryset = Section.objects.filter(band=band)


class NameForm(forms.Form):
    first_name = OneLineField(label="First name", max_length=60)
    last_name = OneLineField(label="Last name", max_length=80, required=False)


class SeatForm(forms.Form):
    section = SectionField(empty_label="Choose a section")
    instrument = forms.TypedChoiceField(
        label="Instrument", choices=[NO_INSTRUMENT, *Instrument.choices], coerce=Instrument
    )

    def __init__(self, *args: Any, band: Band, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        cast(SectionField, self.fields["section"]).of(band)


class StudentForm(NameForm, SeatForm):
    """A new student, with the first seat."""

    recording = forms.ChoiceField(
        label="Recording",
        choices=RecordingPermission.choices,
        initial=RecordingPermission.PENDING,
        help_text="Whether the student’s sound may be kept. How permission is asked is your school’s policy.",
    )
    field_order = ("first_name", "last_name", "section", "instrument", "recording")


class ChangeSeatForm(SeatForm):
    """Another section or instrument from a day on: no later than today, no earlier than the seat itself."""

    on = forms.DateField(label="From", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))

    def __init__(self, *args: Any, seat: Seat, today: date, **kwargs: Any) -> None:
        initial = {"section": seat.section_id, "instrument": seat.instrument, "on": today}
        super().__init__(*args, band=seat.section.band, initial=initial, **kwargs)
        self.seat, self.today = seat, today
        self.fields["on"].widget.attrs |= {"min": seat.since.isoformat(), "max": today.isoformat()}

    def clean_on(self) -> date:
        on: date = self.cleaned_data["on"]
        if on > self.today:
            raise forms.ValidationError("Choose today or an earlier day.")
        return on


class PermissionsForm(forms.Form):
    """One choice for each student of the band, all on one page."""

    def __init__(self, *args: Any, memberships: list[Membership], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for membership in memberships:
            self.fields[f"m{membership.pk}"] = forms.ChoiceField(
                label=membership.user.full_name,
                choices=RecordingPermission.choices,
                initial=membership.recording,
                required=False,
            )

    def permissions(self) -> dict[int, RecordingPermission]:
        """By membership pk; a student whose choice was not sent is not in it."""
        return {
            int(name.removeprefix("m")): RecordingPermission(value)
            for name, value in self.cleaned_data.items()
            if value
        }
