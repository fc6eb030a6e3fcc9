"""The page on which an exercise is written: its head and its lines, typed in our plain text."""

import contextlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms

from bandroom.people.forms.fields import OneLineField
from exercises.forms.choices import (
    ALL_KEYS,
    CONCERT,
    METRE_CHOICES,
    WRITTEN_FOR_CHOICES,
    key_choices,
    player_of,
)
from exercises.models import Exercise
from exercises.music.errors import MusicError
from exercises.music.notation import LONGEST_TEXT, format_notation, parse_notation
from exercises.music.part import move_to_key, to_concert
from exercises.music.score import Line, Metre, line_from_json
from exercises.services.exercises import DraftLine, ExerciseDraft

#: Lines an exercise can have; the page begins with two.
LABELS = "ABCDEFGH"
SLOWEST, FASTEST = 40, 160
USUAL_TEMPO = 72


@dataclass(frozen=True, slots=True)
class LineFields:
    """The boxes of one line, for the template."""

    label: str
    notes: forms.BoundField
    caption: forms.BoundField
    tempo: forms.BoundField


class ExerciseForm(forms.Form):
    """Reads the notes while it validates: `lines` holds every line that could be read, in concert pitch,
    `faults` what was wrong with the others (with the place in the text)."""

    title = OneLineField(
        max_length=80,
        error_messages={
            "required": "Give the exercise a title.",
            "max_length": "A title has at most %(limit_value)d letters, this one has %(show_value)d: "
            "make it shorter.",
        },
    )
    metre = forms.ChoiceField(choices=METRE_CHOICES, initial="4/4")
    fifths = forms.TypedChoiceField(
        label="Key of these notes",
        coerce=int,
        choices=key_choices(ALL_KEYS),
        initial=-2,
    )
    written_for = forms.TypedChoiceField(
        label="The notes are in", coerce=player_of, choices=WRITTEN_FOR_CHOICES, initial=CONCERT
    )
    source = forms.ChoiceField(
        choices=Exercise.Source.choices,
        required=False,
        initial=Exercise.Source.TYPED,
        widget=forms.HiddenInput,
    )

    # The instrument a file was made for: its notes are in concert pitch by now, its octave is kept.
    came_from = forms.TypedChoiceField(
        coerce=player_of,
        choices=WRITTEN_FOR_CHOICES,
        required=False,
        empty_value="",
        initial="",
        widget=forms.HiddenInput,
    )

    def __init__(
        self, data: Mapping[str, Any] | None = None, *, labels: Sequence[str] = "AB", **kwargs: Any
    ) -> None:
        super().__init__(data, **kwargs)
        self.labels = tuple(labels)
        self.lines: dict[str, Line] = {}
        self.faults: dict[str, MusicError] = {}
        self.texts: dict[str, str] = {}
        self._offer_metre()
        for label in self.labels:
            self._add_line(label)

    def _offer_metre(self) -> None:
        """A file may bring a metre that the list does not have."""
        asked = str((self.data if self.is_bound else self.initial).get("metre", ""))
        with contextlib.suppress(MusicError):
            if asked and asked not in dict(METRE_CHOICES):
                offered = str(Metre.parse(asked))
                metre = self.fields["metre"]
                assert isinstance(metre, forms.ChoiceField)  # noqa: S101 - for the type checker
                metre.choices = [*METRE_CHOICES, (offered, offered)]

    def _add_line(self, label: str) -> None:
        first = label == self.labels[0]
        self.fields[f"notes_{label}"] = forms.CharField(
            label=f"Line {label}, notes",
            required=first,
            strip=False,  # places of faults count from the first character in the box
            max_length=LONGEST_TEXT,
            help_text="For example Bb3:2 C4 | D4 Eb4 | F4:4" if first else "",
            widget=forms.Textarea(attrs={"rows": 3, "spellcheck": "false", "autocapitalize": "off"}),
            error_messages={
                "required": f"Type the notes of line {label}, for example: Bb3:2 C4 | D4 Bb3.",
                "max_length": "This text is too long for one line of an exercise.",
            },
        )
        self.fields[f"caption_{label}"] = OneLineField(
            label="What it is for",
            required=False,
            max_length=40,
            error_messages={"max_length": "Say it in at most %(limit_value)d letters."},
        )
        self.fields[f"tempo_{label}"] = forms.IntegerField(
            label="Tempo, quarter notes a minute",
            initial=USUAL_TEMPO,
            min_value=SLOWEST,
            max_value=FASTEST,
            error_messages={
                "required": "Give a tempo, for example 72.",
                "invalid": "Give the tempo as a number, for example 72.",
                "min_value": f"The tempo lies between {SLOWEST} and {FASTEST}.",
                "max_value": f"The tempo lies between {SLOWEST} and {FASTEST}.",
            },
        )

    @property
    def line_fields(self) -> list[LineFields]:
        return [
            LineFields(label, self[f"notes_{label}"], self[f"caption_{label}"], self[f"tempo_{label}"])
            for label in self.labels
        ]

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        for label in self.labels:
            # A browser sends line breaks as two characters and counts them as one.
            text = (cleaned.get(f"notes_{label}") or "").replace("\r\n", "\n")
            self.texts[label] = text
            if text.strip() and "metre" in cleaned and "fifths" in cleaned:
                self._read(label, text, cleaned)
        return cleaned

    def _read(self, label: str, text: str, cleaned: Mapping[str, Any]) -> None:
        try:
            line = parse_notation(
                text, label=label, metre=Metre.parse(cleaned["metre"]), fifths=cleaned["fifths"]
            )
            if cleaned.get("written_for"):
                line = to_concert(line, cleaned["written_for"])
            self.lines[label] = line
        except MusicError as error:
            self.faults[label] = error
            self.add_error(f"notes_{label}", error.message)

    def draft(self) -> ExerciseDraft:
        """What was written; only for a valid form."""
        return ExerciseDraft(
            title=self.cleaned_data["title"],
            source=Exercise.Source(self.cleaned_data["source"] or Exercise.Source.TYPED),
            written_for=self.cleaned_data["written_for"] or self.cleaned_data["came_from"],
            lines=tuple(
                DraftLine(
                    line=line,
                    caption=self.cleaned_data[f"caption_{label}"],
                    tempo=self.cleaned_data[f"tempo_{label}"],
                )
                for label, line in self.lines.items()
            ),
        )


def labels_in(data: Mapping[str, Any]) -> tuple[str, ...]:
    """Which lines a sent form has, A and B at least."""
    return tuple(label for label in LABELS if label in "AB" or f"notes_{label}" in data)


def initial_of(exercise: Exercise, *, fifths: int | None = None) -> tuple[tuple[str, ...], dict[str, Any]]:
    """Labels and first values of the form for an exercise in concert pitch, as it stands or moved to another
    concert key. Raises MusicError for a line that cannot be read or moved."""
    rows = list(exercise.lines.all())
    if fifths is None:
        fifths = exercise.concert_fifths
    initial: dict[str, Any] = {
        "title": exercise.title,
        "metre": f"{exercise.metre_beats}/{exercise.metre_unit}",
        "fifths": fifths,
        "written_for": CONCERT,
        "source": exercise.source,
    }
    for row in rows:
        initial |= {
            f"notes_{row.label}": format_notation(move_to_key(line_from_json(row.score), fifths)),
            f"caption_{row.label}": row.caption,
            f"tempo_{row.label}": row.tempo_bpm,
        }
    return tuple(sorted({"A", "B", *(row.label for row in rows)})), initial


def initial_of_lines(
    lines: Iterable[Line], *, title: str, source: Exercise.Source, tempo: int | None
) -> tuple[tuple[str, ...], dict[str, Any]]:
    """The same for lines in concert pitch that came from a file or a pattern."""
    found = list(lines)
    initial: dict[str, Any] = {
        "title": title,
        "metre": str(found[0].metre),
        "fifths": found[0].fifths,
        "written_for": CONCERT,
        "source": source,
    }
    kept = min(max(tempo or USUAL_TEMPO, SLOWEST), FASTEST)
    for line in found:
        initial |= {f"notes_{line.label}": format_notation(line), f"tempo_{line.label}": kept}
    return tuple(sorted({"A", "B", *(line.label for line in found)})), initial
