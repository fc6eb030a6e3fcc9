"""Giving a class list, and saying what its columns hold."""

from typing import Any, cast

from django import forms
from django.core.files.uploadedfile import UploadedFile

from bandroom.people.instrument_names import suggested_instrument
from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, RecordingPermission, Section
from bandroom.people.roster_import.columns import Column, ColumnLayout, layout_problem
from bandroom.people.roster_import.draft import Choices, RosterDraft
from bandroom.people.roster_import.table import MAX_BYTES, RosterError, Table, read_table

EXAMPLES = 3
# The choice of nothing in particular; a word, because an empty value would be an unanswered question.
EACH = "each"


def _pk_or_none(value: str) -> int | None:
    return None if value == EACH else int(value)


def _instrument_or_none(value: str) -> Instrument | None:
    return None if value == EACH else Instrument(value)


class ListForm(forms.Form):
    """A CSV file, or rows pasted from a spreadsheet."""

    file = forms.FileField(
        label="CSV file",
        required=False,
        help_text="From a spreadsheet: Save as, type CSV UTF-8.",
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.tsv,.txt,text/csv,text/plain"}),
        error_messages={"empty": "This file is empty: choose another one, or paste the rows."},
    )
    pasted = forms.CharField(
        label="Or paste the rows",
        required=False,
        strip=False,
        help_text="Mark the cells in the spreadsheet with their heads, copy, paste here.",
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false", "autocomplete": "off"}),
    )

    def clean(self) -> None:
        file, pasted = self.cleaned_data.get("file"), self.cleaned_data.get("pasted", "")
        if self.errors:
            return
        if bool(file) == bool(pasted.strip()):
            self.add_error(
                None,
                "Give the list once: a file or pasted rows, not both."
                if file
                else "Choose a file, or paste the rows of your list.",
            )
            return
        try:
            self.cleaned_data["table"] = self._table(file, pasted)
        except RosterError as wrong:
            self.add_error("file" if file else "pasted", str(wrong))

    @staticmethod
    def _table(file: UploadedFile[bytes] | None, pasted: str) -> Table:
        if file is None:
            return read_table(pasted)
        return read_table(file.read(MAX_BYTES + 1))


class ChoicesForm(forms.Form):
    """The columns with their heads and first cells, and what holds for every row where no column says it."""

    has_head = forms.BooleanField(label="The first row holds the heads of the columns", required=False)
    section = forms.TypedChoiceField(label="Section, where no column says it", coerce=_pk_or_none)
    period = forms.CharField(label="Class period, where none is said", max_length=30, required=False)
    instrument = forms.TypedChoiceField(
        label="Instrument, where no column says it",
        choices=[(EACH, "Each row must say it"), *Instrument.choices],
        coerce=_instrument_or_none,
    )
    recording = forms.TypedChoiceField(
        label="Recording, for new students",
        choices=RecordingPermission.choices,
        coerce=RecordingPermission,
    )

    def __init__(self, data: Any = None, *, band: Band, draft: RosterDraft, unknown: tuple[str, ...]) -> None:
        choices = draft.choices
        initial = {
            "has_head": choices.layout.head is not None,
            "section": choices.section or EACH,
            "period": choices.period,
            "instrument": choices.instrument or EACH,
            "recording": choices.recording,
        }
        super().__init__(data, initial=initial)
        self.draft = draft
        sections = [(known.pk, str(known)) for known in Section.objects.filter(band=band)]
        section = cast(forms.TypedChoiceField, self.fields["section"])
        section.choices = [(EACH, "A section for each instrument"), *sections]
        for index, column in enumerate(choices.layout.columns):
            self.fields[f"column_{index}"] = forms.TypedChoiceField(
                label=choices.layout.heads(draft.table)[index],
                choices=Column.choices,
                coerce=Column,
                initial=column,
            )
        # by position: what a name of an instrument is called in a form must not come from a file
        self.unknown = tuple(dict.fromkeys((*choices.meanings, *unknown)))
        for index, name in enumerate(self.unknown):
            self.fields[f"meaning_{index}"] = forms.TypedChoiceField(
                label=f"“{name}” means",
                choices=[("", "Choose an instrument"), *Instrument.choices],
                coerce=Instrument,
                required=False,
                empty_value=None,
                initial=choices.meanings.get(name) or suggested_instrument(name),
            )

    def columns(self) -> list[tuple[forms.BoundField, list[str]]]:
        """Each column's field with the first cells that hold anything, for a page to show them together."""
        rows = self.draft.choices.layout.rows(self.draft.table)
        shown = []
        for index in range(len(self.draft.choices.layout.columns)):
            cells = [row.cells[index] for row in rows if row.cells[index]]
            shown.append((self[f"column_{index}"], cells[:EXAMPLES]))
        return shown

    def meanings(self) -> list[forms.BoundField]:
        return [self[f"meaning_{index}"] for index in range(len(self.unknown))]

    def clean(self) -> None:
        if problem := layout_problem(self._columns()):
            self.add_error(None, problem)

    def _columns(self) -> tuple[Column, ...]:
        count = len(self.draft.choices.layout.columns)
        return tuple(self.cleaned_data.get(f"column_{index}", Column.IGNORE) for index in range(count))

    def choices(self) -> Choices:
        """What was chosen. Only after is_valid()."""
        layout = self.draft.choices.layout
        head = (layout.head or 0) if self.cleaned_data["has_head"] else None
        meanings = {
            name: instrument
            for index, name in enumerate(self.unknown)
            if (instrument := self.cleaned_data.get(f"meaning_{index}"))
        }
        return Choices(
            layout=ColumnLayout(head=head, columns=self._columns()),
            section=self.cleaned_data["section"],
            period=self.cleaned_data["period"],
            instrument=self.cleaned_data["instrument"],
            meanings=meanings,
            recording=self.cleaned_data["recording"],
        )
