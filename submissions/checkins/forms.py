"""What a director decides about times: a series of them, or one that is there."""

import uuid
from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator

from bandroom.people.forms.fields import OneLineField
from bandroom.people.models import Band, Section
from submissions.assigning.deadlines import NoSuchTime
from submissions.assigning.forms.fields import YEARS, BandTimeField
from submissions.checkins import times
from submissions.checkins.services.timetable import Where
from submissions.models import Slot
from submissions.models.checkins import WEB_ADDRESS

TUESDAY = 1
AFTER_SCHOOL = "15:30"


def number(label: str, *, most: int, initial: int, help_text: str = "") -> forms.IntegerField:
    wrong = f"Choose a number from 1 to {most}."
    return forms.IntegerField(
        label=label,
        initial=initial,
        help_text=help_text,
        validators=[MinValueValidator(1, wrong), MaxValueValidator(most, wrong)],
        widget=forms.NumberInput(attrs={"min": 1, "max": most}),
        error_messages={"invalid": wrong, "required": wrong},
    )


class WhereForm(forms.Form):
    """What a new series and one changed time have in common."""

    place = OneLineField(
        required=False,
        max_length=120,
        error_messages={"max_length": "Keep the place under 120 characters."},
        help_text="Everybody who can book sees it: “Room 114”, “by video”.",
    )
    link = forms.CharField(
        label="Meeting link",
        required=False,
        max_length=500,
        validators=[WEB_ADDRESS],
        error_messages={"max_length": "Keep the link under 500 characters."},
        widget=forms.URLInput(attrs={"placeholder": "https://", "autocomplete": "off"}),
        help_text="Only students who booked see it, and the passcode.",
    )
    passcode = OneLineField(
        required=False,
        max_length=60,
        error_messages={"max_length": "Keep the passcode under 60 characters."},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    purpose = forms.ChoiceField(
        label="What students can book it for",
        choices=[
            (Slot.Purpose.EITHER, "Playing an assignment, or help"),
            (Slot.Purpose.TURN_IN, "Playing an assignment only"),
            (Slot.Purpose.HELP, "Help only"),
        ],
        initial=Slot.Purpose.EITHER,
        widget=forms.RadioSelect,
    )
    sections = forms.ModelMultipleChoiceField(
        queryset=Section.objects.none(),
        label="Who can book",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one section that can book."},
    )

    def __init__(self, *args: Any, band: Band, at: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.band = band
        self.at = at
        sections = self.fields["sections"]
        assert isinstance(sections, forms.ModelMultipleChoiceField)  # noqa: S101 - for the type checker
        sections.queryset = Section.objects.filter(band=band)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if not {"place", "link"} & set(self.errors) and not (data.get("place") or data.get("link")):
            self.add_error("place", "Say where it is: a place, a meeting link, or both.")
        return data

    @property
    def where(self) -> Where:
        data = self.cleaned_data
        return Where(place=data["place"], link=data["link"], passcode=data["passcode"])


class SeriesForm(WhereForm):
    """New times: some in a row, on one day or on the same day of several weeks."""

    day = forms.DateField(
        label="Day",
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}),
        error_messages={
            "required": "Choose a day.",
            "invalid": "Write the day like 2026-12-01.",
        },
    )
    clock = forms.TimeField(
        label="From",
        widget=forms.TimeInput(format="%H:%M", attrs={"type": "time"}),
        error_messages={"required": "Choose a time.", "invalid": "Write the time like 15:30."},
    )
    minutes = number("Minutes each", most=times.LONGEST_MINUTES, initial=5)
    count = number("How many in a row", most=times.MOST_IN_A_ROW, initial=6)
    weeks = number("For how many weeks", most=times.MOST_WEEKS, initial=1)
    capacity = number("Students at each time", most=times.MOST_PLACES, initial=1)
    # names the series, so that a form sent twice makes it once
    series = forms.UUIDField(widget=forms.HiddenInput)

    field_order = ("day", "clock", "count", "minutes", "capacity", "weeks")

    def __init__(self, *args: Any, band: Band, at: datetime, **kwargs: Any) -> None:
        super().__init__(*args, band=band, at=at, **kwargs)
        if self.is_bound:
            return
        last = Slot.objects.filter(band=band).order_by("-made_at", "-pk").first()
        tomorrow = band.local(at).date() + timedelta(days=1)
        self.initial = {
            "day": tomorrow + timedelta(days=(TUESDAY - tomorrow.weekday()) % 7),
            "clock": AFTER_SCHOOL,
            "series": uuid.uuid4(),
            "sections": list(Section.objects.filter(band=band).values_list("pk", flat=True)),
            **({"place": last.place, "link": last.link, "passcode": last.passcode} if last else {}),
            **self.initial,
        }

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        day, clock = data.get("day"), data.get("clock")
        if day is None or clock is None:
            return data
        if day.year not in YEARS:
            self.add_error("day", "Look at the year again.")
            return data
        try:
            first = times.starts(day=day, clock=clock.replace(second=0, microsecond=0), zone=self.band.zone)
        except NoSuchTime as error:
            self.add_error("clock", str(error))
            return data
        if first <= self.at:
            self.add_error("day", "The first time has passed already; choose a later one.")
        data["first_starts_at"] = first
        return data

    def planned(self) -> tuple[times.SlotTime, ...]:
        """The times that would be made; none while day, time or numbers are not right."""
        needed = {"day", "clock", "minutes", "count", "weeks"}
        if not self.is_bound or needed & set(self.errors) or "first_starts_at" not in self.cleaned_data:
            return ()
        data = self.cleaned_data
        return times.series(
            first_starts_at=data["first_starts_at"],
            minutes=data["minutes"],
            count=data["count"],
            weeks=data["weeks"],
            zone=self.band.zone,
        )


class SlotForm(WhereForm):
    """One time that is there. A start written back unchanged stays the same instant."""

    minutes = number("Minutes", most=times.LONGEST_MINUTES, initial=5)
    capacity = number("Students", most=times.MOST_PLACES, initial=1)
    where_for_the_rest = forms.BooleanField(
        required=False,
        label="Also for the later times of this series: the same place, link and passcode",
    )

    field_order = ("starts", "minutes", "capacity")

    def __init__(self, *args: Any, slot: Slot, at: datetime, **kwargs: Any) -> None:
        super().__init__(*args, band=slot.band, at=at, **kwargs)
        self.slot = slot
        self.fields["starts"] = BandTimeField(
            zone=self.band.zone, twice=times.STARTING, kept=slot.starts_at, label="Starts"
        )
        self.order_fields(self.field_order)
        self.initial = {
            "minutes": slot.minutes,
            "capacity": slot.capacity,
            "place": slot.place,
            "link": slot.link,
            "passcode": slot.passcode,
            "purpose": slot.purpose,
            "sections": list(slot.sections.values_list("pk", flat=True)),
            **self.initial,
        }

    @property
    def ends_at(self) -> datetime:
        starts: datetime = self.cleaned_data["starts"]
        return starts + timedelta(minutes=self.cleaned_data["minutes"])
