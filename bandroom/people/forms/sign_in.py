"""Signing in: a student's name-id and three words, a director's e-mail address and password."""

from django import forms

from bandroom.people.name_ids import normal_name_id
from bandroom.people.passphrases import normal_passphrase
from bandroom.people.signing_in import normal_name

# As typed on a phone: nothing is corrected, suggested or made a capital.
PLAIN_TYPING = {"autocapitalize": "none", "autocorrect": "off", "spellcheck": "false"}


def _word(label: str) -> forms.CharField:
    return forms.CharField(
        label=label,
        required=False,
        max_length=60,
        widget=forms.TextInput(attrs=PLAIN_TYPING | {"autocomplete": "off"}),
    )


class StudentSignInForm(forms.Form):
    """All three words typed into the first box, with spaces or hyphens, are as good as one in each."""

    username = forms.CharField(
        label="Name-id",
        max_length=60,
        error_messages={"required": "Type the name-id from your card, such as amaru-41."},
        widget=forms.TextInput(attrs=PLAIN_TYPING | {"autocomplete": "username"}),
    )
    word_1 = _word("First word")
    word_2 = _word("Second word")
    word_3 = _word("Third word")
    shared = forms.BooleanField(label="This is a shared laptop. Sign me out when I close it.", required=False)

    def clean_username(self) -> str:
        return normal_name_id(self.cleaned_data["username"])

    def clean(self) -> None:
        words = [self.cleaned_data.get(f"word_{number}", "") for number in (1, 2, 3)]
        self.cleaned_data["password"] = passphrase = normal_passphrase(words)
        if not passphrase and not self.errors:
            self.add_error("word_1", "Type the three words from your card.")


class StaffSignInForm(forms.Form):
    username = forms.EmailField(
        label="E-mail address",
        max_length=254,
        error_messages={"required": "Type your e-mail address."},
        widget=forms.EmailInput(attrs={"autocomplete": "username"}),
    )
    password = forms.CharField(
        label="Password",
        strip=False,
        max_length=4096,
        error_messages={"required": "Type your password."},
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    shared = forms.BooleanField(
        label="This is a shared computer. Sign me out when I close it.", required=False
    )

    def clean_username(self) -> str:
        return normal_name(self.cleaned_data["username"])
