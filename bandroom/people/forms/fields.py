"""Fields that several forms share."""

import unicodedata
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _


def one_line(text: str) -> None:
    """Refuses line breaks and other control characters: a name stands in one line, also in a calendar."""
    if any(unicodedata.category(character) in {"Cc", "Zl", "Zp"} for character in text):
        raise ValidationError(_("Write it in one line, without line breaks or other invisible signs."))


class OneLineField(forms.CharField):
    """A name or another short text. What a browser's box for one line could not hold is refused."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.validators.append(one_line)
