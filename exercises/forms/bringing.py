"""A file brought in: whose notes it has, and which of its lines become line A and line B."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django import forms

from bandroom.people.forms.fields import OneLineField
from exercises.forms.choices import CONCERT, WRITTEN_FOR_CHOICES, player_of
from exercises.forms.writing import LABELS
from exercises.models import Exercise
from exercises.music.errors import MusicError
from exercises.music.notation import LONGEST_TEXT, format_notation, parse_notation
from exercises.music.score import Line, Metre

#: Lines a file can bring (the engine reads no more).
MOST_FOUND = 8
LEFT_OUT, WHOLE = "out", "0"


class FileForm(forms.Form):
    """Part of the writing page. Its boxes have names of their own, beside those of the exercise."""

    file = forms.FileField(
        label="Music file",
        help_text="MusicXML (.musicxml, .xml, .mxl), MIDI or ABC, up to 1 MB.",
        widget=forms.FileInput(attrs={"accept": ".musicxml,.xml,.mxl,.mid,.midi,.abc"}),
        error_messages={
            "required": "Choose a file first.",
            "empty": "This file is empty: choose another file.",
            "missing": "Choose a file first.",
        },
    )
    file_written_for = forms.TypedChoiceField(
        label="The file is in",
        coerce=player_of,
        choices=WRITTEN_FOR_CHOICES,
        required=False,
        empty_value="",
        initial=CONCERT,
        help_text="For a part that was made for one instrument, choose that instrument.",
    )


@dataclass(frozen=True, slots=True)
class FoundFields:
    """The boxes of one line that was found, and the line itself."""

    line: Line
    text: str
    use: forms.BoundField
    split: forms.BoundField
    hidden: tuple[forms.BoundField, ...]

    @property
    def bars(self) -> int:
        return len(self.line.bars)


class SortForm(forms.Form):
    """Which found line is line A, which line B. The lines travel with the form as text, so that nothing has
    to be kept between two pages; they are read again and checked like typed ones."""

    title = OneLineField(required=False, max_length=80, widget=forms.HiddenInput)
    source = forms.ChoiceField(choices=Exercise.Source.choices, widget=forms.HiddenInput)
    tempo = forms.IntegerField(required=False, min_value=1, max_value=1000, widget=forms.HiddenInput)
    came_from = forms.ChoiceField(choices=WRITTEN_FOR_CHOICES, required=False, widget=forms.HiddenInput)
    count = forms.IntegerField(min_value=1, max_value=MOST_FOUND, widget=forms.HiddenInput)

    def __init__(
        self, data: Mapping[str, Any] | None = None, *, found: Sequence[Line] = (), **kwargs: Any
    ) -> None:
        """Either `data` that was sent, or the lines that were `found` in a file."""
        super().__init__(data, **kwargs)
        self.found = tuple(found)
        self.chosen: tuple[Line, ...] = ()
        if data is not None:
            self.found = tuple(_sent_lines(data))
        else:
            self.initial["count"] = len(self.found)
        for number, line in enumerate(self.found):
            self._add_found(number, line)

    def _add_found(self, number: int, line: Line) -> None:
        name = "This line" if len(self.found) == 1 else f"Part {number + 1}"
        first_guess = LABELS[number] if number < 2 else LEFT_OUT
        for field, value in (
            ("text", format_notation(line)),
            ("metre", str(line.metre)),
            ("fifths", str(line.fifths)),
        ):
            self.fields[f"{field}_{number}"] = forms.CharField(initial=value, widget=forms.HiddenInput)
        uses = [(label, f"line {label}") for label in LABELS[: max(2, len(self.found))]]
        self.fields[f"use_{number}"] = forms.ChoiceField(
            label=f"{name} becomes",
            choices=[*uses, (LEFT_OUT, "left out")],
            initial=first_guess,
        )
        first = 1 if line.pickup else 2
        self.fields[f"split_{number}"] = forms.TypedChoiceField(
            label="Line B begins inside it",
            coerce=int,
            initial=WHOLE,
            choices=[
                (WHOLE, "no, it is one line"),
                *((place, f"at bar {place + first - 1}") for place in range(1, len(line.bars))),
            ],
        )

    @property
    def found_fields(self) -> list[FoundFields]:
        return [
            FoundFields(
                line,
                format_notation(line),
                self[f"use_{number}"],
                self[f"split_{number}"],
                tuple(self[f"{field}_{number}"] for field in ("text", "metre", "fifths")),
            )
            for number, line in enumerate(self.found)
        ]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        if self.errors:
            return cleaned
        try:
            self.chosen = tuple(sorted(self._chosen(cleaned), key=lambda line: line.label))
        except MusicError as error:
            self.add_error(None, error.message)
        else:
            self._check_chosen()
        return cleaned

    def _chosen(self, cleaned: Mapping[str, Any]) -> Iterator[Line]:
        for number, line in enumerate(self.found):
            label, place = cleaned[f"use_{number}"], cleaned[f"split_{number}"]
            if label == LEFT_OUT:
                continue
            if not place:
                yield replace(line, label=label)
                continue
            first = replace(line, label=label, bars=line.bars[:place])
            second = replace(
                line, label=LABELS[LABELS.index(label) + 1], bars=line.bars[place:], pickup=False
            )
            for half in (first, second):
                half.validate()
                yield half

    def _check_chosen(self) -> None:
        labels = [line.label for line in self.chosen]
        if "A" not in labels:
            self.add_error(None, "Choose which of them is line A.")
        elif len(set(labels)) < len(labels):
            twice = next(label for label in labels if labels.count(label) > 1)
            self.add_error(None, f"Two of them are called line {twice}: choose another letter for one.")
        elif len({line.metre for line in self.chosen}) > 1:
            self.add_error(None, "The lines have different metres: make an exercise of each.")
        elif len({line.fifths for line in self.chosen}) > 1:
            self.add_error(None, "The lines are in different keys: make an exercise of each.")


def _sent_lines(data: Mapping[str, Any]) -> Iterator[Line]:
    """The found lines as the form carried them; what was tampered with ends the list."""
    for number in range(MOST_FOUND):
        text = str(data.get(f"text_{number}", ""))
        if not text or len(text) > LONGEST_TEXT:
            return
        try:
            yield parse_notation(
                text,
                label=LABELS[number],
                metre=Metre.parse(str(data.get(f"metre_{number}", ""))),
                fifths=int(str(data.get(f"fifths_{number}", "0"))),
            )
        except (MusicError, ValueError):
            return
