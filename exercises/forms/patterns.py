"""The pattern builder: which walk, from where, in which key."""

from collections.abc import Mapping
from typing import Any

from django import forms

from exercises.forms.choices import ALL_KEYS, key_choices
from exercises.music.errors import MusicError
from exercises.music.patterns import FURTHEST_WALK, Pattern, pattern_lines
from exercises.music.pitch import Pitch
from exercises.music.score import Line, Metre

PATTERN_WORDS = {
    Pattern.FIVE_NOTES: "five notes up and down",
    Pattern.SCALE: "scale, one octave up and down",
    Pattern.THIRDS: "thirds",
    Pattern.CHROMATIC: "chromatic walk up and back",
    Pattern.LONG_TONES: "long tones (whole notes, then halves)",
}
PATTERN_TITLES = {
    Pattern.FIVE_NOTES: "Five notes",
    Pattern.SCALE: "Scale",
    Pattern.THIRDS: "Thirds",
    Pattern.CHROMATIC: "Chromatic walk",
    Pattern.LONG_TONES: "Long tones",
}
PATTERN_METRES = (Metre(4, 4), Metre(3, 4), Metre(2, 4), Metre(2, 2))


class PatternForm(forms.Form):
    pattern = forms.TypedChoiceField(
        coerce=Pattern,
        choices=[(pattern.value, words) for pattern, words in PATTERN_WORDS.items()],
        initial=Pattern.FIVE_NOTES.value,
        widget=forms.RadioSelect,
    )
    fifths = forms.TypedChoiceField(
        label="Concert key", coerce=int, choices=key_choices(ALL_KEYS), initial=-2
    )
    metre = forms.ChoiceField(choices=[(str(metre), str(metre)) for metre in PATTERN_METRES], initial="4/4")
    start = forms.CharField(
        label="Chromatic walk: first note",
        required=False,
        max_length=4,
        help_text="In concert pitch, for example Bb3. Empty begins on the first note of the key.",
        error_messages={"max_length": "Write one note name, for example Bb3."},
    )
    half_steps = forms.IntegerField(
        label="Chromatic walk: half steps up",
        initial=4,
        min_value=1,
        max_value=FURTHEST_WALK,
        error_messages={
            "required": f"Say how many half steps the walk goes up, 1 to {FURTHEST_WALK}.",
            "invalid": f"Say how many half steps the walk goes up, 1 to {FURTHEST_WALK}.",
            "min_value": f"A chromatic walk goes up 1 to {FURTHEST_WALK} half steps.",
            "max_value": f"A chromatic walk goes up 1 to {FURTHEST_WALK} half steps.",
        },
    )

    def __init__(self, data: Mapping[str, Any] | None = None, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.lines: dict[str, Line] = {}

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        if self.errors:
            return cleaned
        try:
            start = Pitch.parse(cleaned["start"]) if cleaned["start"].strip() else None
        except MusicError as error:
            self.add_error("start", error.message)
            return cleaned
        try:
            lines = pattern_lines(
                cleaned["pattern"],
                fifths=cleaned["fifths"],
                start=start,
                half_steps=cleaned["half_steps"],
                metre=Metre.parse(cleaned["metre"]),
            )
        except MusicError as error:
            self.add_error(None, error.message)
        else:
            self.lines = {line.label: line for line in lines}
        return cleaned

    def title(self) -> str:
        """A first title, for example "Thirds in B♭"."""
        key = key_choices([self.cleaned_data["fifths"]])[0][1].partition(" major")[0]
        pattern = self.cleaned_data["pattern"]
        if pattern is Pattern.CHROMATIC:
            return f"{PATTERN_TITLES[pattern]} from {self._first_note()}"
        return f"{PATTERN_TITLES[pattern]} in {key}"

    def _first_note(self) -> str:
        first = self.lines["A"].notes[0].pitch
        return first.printed_letter if first else ""
