"""Signing in: a student's name-id and three words, a director's e-mail address and password."""

from typing import TYPE_CHECKING

from django import forms
from django.utils.translation import gettext_lazy as _

from bandroom.people.name_ids import normal_name_id
from bandroom.people.passphrases import normal_passphrase
from bandroom.people.signing_in import normal_name

if TYPE_CHECKING:
    from django.utils.functional import _StrPromise

# As typed on a phone: nothing is corrected, suggested or made a capital.
PLAIN_TYPING = {"autocapitalize": "none", "autocorrect": "off", "spellcheck": "false"}


def _word(label: "_StrPromise") -> forms.CharField:
    return forms.CharField(
        label=label,
        required=False,
        max_length=60,
        widget=forms.TextInput(attrs=PLAIN_TYPING | {"autocomplete": "off"}),
    )


class StudentSignInForm(forms.Form):
    """All three words typed into the first box, with spaces or hyphens, are as good as one in each."""

    username = forms.CharField(
        label=_("Name-id"),
        max_length=60,
        error_messages={"required": _("Type the name-id from your card, such as amaru-41.")},
        widget=forms.TextInput(attrs=PLAIN_TYPING | {"autocomplete": "username"}),
    )
    word_1 = _word(_("First word"))
    word_2 = _word(_("Second word"))
    word_3 = _word(_("Third word"))
    shared = forms.BooleanField(
        label=_("This is a shared laptop. Sign me out when I close it."), required=False
    )

    def clean_username(self) -> str:
        return normal_name_id(self.cleaned_data["username"])

    def clean(self) -> None:
        words = [self.cleaned_data.get(f"word_{number}", "") for number in (1, 2, 3)]
        self.cleaned_data["password"] = passphrase = normal_passphrase(words)
        if not passphrase and not self.errors:
            self.add_error("word_1", _("Type the three words from your card."))


class StaffSignInForm(forms.Form):
    username = forms.EmailField(
        label=_("E-mail address"),
        max_length=254,
        error_messages={"required": _("Type your e-mail address.")},
        widget=forms.EmailInput(attrs={"autocomplete": "username"}),
    )
    password = forms.CharField(
        label=_("Password"),
        strip=False,
        max_length=4096,
        error_messages={"required": _("Type your password.")},
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    shared = forms.BooleanField(
        label=_("This is a shared computer. Sign me out when I close it."), required=False
    )

    def clean_username(self) -> str:
        return normal_name(self.cleaned_data["username"])
