"""The band itself and its sections."""

from zoneinfo import available_timezones

from django import forms

from bandroom.people.forms.fields import OneLineField
from bandroom.people.models import Band

# Where American schools are; everything else stands below them.
FIRST_ZONES = (
    *("America/New_York", "America/Chicago", "America/Denver", "America/Phoenix", "America/Los_Angeles"),
    *("America/Anchorage", "Pacific/Honolulu", "America/Puerto_Rico"),
)


def zone_choices() -> list[tuple[str, list[tuple[str, str]]]]:
    def named(zone: str) -> tuple[str, str]:
        return zone, zone.replace("_", " ")

    others = sorted(zone for zone in available_timezones() if "/" in zone and not zone.startswith("Etc/"))
    return [
        ("United States", [named(zone) for zone in FIRST_ZONES]),
        ("Elsewhere", [named(zone) for zone in others if zone not in FIRST_ZONES]),
    ]


def _day(label: str) -> forms.DateField:
    return forms.DateField(label=label, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))


class BandForm(forms.Form):
    name = OneLineField(label="Name of the band", max_length=120)
    school = OneLineField(label="School", max_length=160, required=False)
    time_zone = forms.ChoiceField(
        label="Time zone",
        choices=zone_choices,
        help_text="Deadlines are shown and judged on this clock, those that are set already as well.",
    )
    starts = _day("School year: first day")
    ends = _day("School year: last day")

    def clean(self) -> None:
        starts, ends = self.cleaned_data.get("starts"), self.cleaned_data.get("ends")
        if starts and ends and ends <= starts:
            self.add_error("ends", "The school year must end after it starts.")

    @staticmethod
    def initial_of(band: Band) -> dict[str, object]:
        return {
            "name": band.name,
            "school": band.school,
            "time_zone": band.time_zone,
            "starts": band.school_year_starts,
            "ends": band.school_year_ends,
        }


class SectionForm(forms.Form):
    name = OneLineField(label="Name", max_length=60, help_text="Such as Clarinet, or Low brass.")
    period = OneLineField(
        label="Class period",
        max_length=30,
        required=False,
        help_text="Such as 2. Sections of one period stand together.",
    )
