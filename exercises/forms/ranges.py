"""What one band's players of an instrument can reach."""

from collections.abc import Mapping
from typing import Any

from django import forms

from exercises.music.errors import MusicError
from exercises.music.instruments import Range, Ranges
from exercises.music.pitch import Pitch

_NAMES = {
    "low": "Lowest note",
    "easy_low": "Lowest easy note",
    "easy_high": "Highest easy note",
    "high": "Highest note",
}


class RangeForm(forms.Form):
    """Four written notes from low to high."""

    low = forms.CharField(label=_NAMES["low"], max_length=4)
    easy_low = forms.CharField(label=_NAMES["easy_low"], max_length=4)
    easy_high = forms.CharField(label=_NAMES["easy_high"], max_length=4)
    high = forms.CharField(label=_NAMES["high"], max_length=4)

    def __init__(self, data: Mapping[str, Any] | None = None, *, ranges: Ranges, **kwargs: Any) -> None:
        first = {
            "low": ranges.extended.low.name,
            "easy_low": ranges.comfortable.low.name,
            "easy_high": ranges.comfortable.high.name,
            "high": ranges.extended.high.name,
        }
        super().__init__(data, initial=first, **kwargs)
        for name, words in _NAMES.items():
            self.fields[name].error_messages |= {
                "required": f"{words}: write a note, for example Bb4.",
                "max_length": f"{words}: write one note name, for example Bb4.",
            }

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        pitches: list[Pitch] = []
        for name in _NAMES:
            if name not in cleaned:
                continue
            try:
                pitch = Pitch.parse(cleaned[name])
            except MusicError as error:
                self.add_error(name, error.message)
                continue
            cleaned[name] = pitch.name
            pitches.append(pitch)
        if len(pitches) == len(_NAMES) and [p.midi for p in pitches] != sorted(p.midi for p in pitches):
            self.add_error(None, "The four notes go upward: lowest, lowest easy, highest easy, highest.")
        return cleaned

    def ranges(self) -> Ranges:
        """Only for a valid form."""
        data = self.cleaned_data
        return Ranges(
            Range.parse(data["easy_low"], data["easy_high"]), Range.parse(data["low"], data["high"])
        )
