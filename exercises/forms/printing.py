"""Which parts to print, on which paper, with or without help."""

from collections.abc import Mapping
from typing import Any

from django import forms

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Seat, Section
from bandroom.people.paper import Paper
from exercises.queries import seated_instruments

EVERYBODY = "all"


class PrintForm(forms.Form):
    who = forms.ChoiceField(label="Whose parts")
    paper = forms.TypedChoiceField(choices=Paper.choices, coerce=Paper, widget=forms.RadioSelect)
    guide = forms.TypedChoiceField(
        label="For",
        coerce=lambda value: value == "guide",
        choices=[
            ("guide", "reading: names, counts, watch notes and reasons"),
            ("bare", "pencil work: the bare notes"),
        ],
        initial="guide",
        widget=forms.RadioSelect,
    )

    def __init__(self, data: Mapping[str, Any] | None = None, *, band: Band, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.band = band
        self.fields["paper"].initial = Paper.usual_in(band.time_zone)
        sections = [(f"section-{section.pk}", str(section)) for section in Section.objects.filter(band=band)]
        seated = seated_instruments(band=band)
        who = self.fields["who"]
        assert isinstance(who, forms.ChoiceField)  # noqa: S101 - for the type checker
        who.choices = [
            (EVERYBODY, "all instruments of the band" if seated else "all instruments"),
            ("One section", sections),
            ("One instrument", Instrument.choices),
        ]

    def instruments(self) -> list[Instrument]:
        """In score order, each once; only for a valid form."""
        who: str = self.cleaned_data["who"]
        if who in Instrument.values:
            return [Instrument(who)]
        if who == EVERYBODY:
            played = seated_instruments(band=self.band) or frozenset(Instrument)
        else:
            seats = Seat.objects.filter(
                section__band=self.band, section=int(who.removeprefix("section-")), until__isnull=True
            )
            played = frozenset(Instrument(each) for each in seats.values_list("instrument", flat=True))
        return [each for each in Instrument if each in played]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        if not self.errors and not self.instruments():
            self.add_error("who", "Nobody sits in this section yet: choose another, or one instrument.")
        return cleaned
