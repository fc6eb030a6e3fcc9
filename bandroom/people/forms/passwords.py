"""A director's own password: changed, or set for the first time by a one-time link."""

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.utils.translation import gettext_lazy as _

from bandroom.people.models import User

RULE = _("At least 12 characters. A few words that only you would put together are easiest.")


class NewPasswordForm(forms.Form):
    new = forms.CharField(
        label=_("New password"),
        help_text=RULE,
        strip=False,
        max_length=4096,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    again = forms.CharField(
        label=_("The same once more"),
        strip=False,
        max_length=4096,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.user = user

    def clean_new(self) -> str:
        new: str = self.cleaned_data["new"]
        validate_password(new, self.user)
        return new

    def clean(self) -> None:
        new, again = self.cleaned_data.get("new"), self.cleaned_data.get("again")
        if new and again and new != again:
            self.add_error("again", _("The two are not the same: type the new password once more."))


class ChangePasswordForm(NewPasswordForm):
    current = forms.CharField(
        label=_("Password until now"),
        strip=False,
        max_length=4096,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    field_order = ("current", "new", "again")

    def clean_current(self) -> str:
        current: str = self.cleaned_data["current"]
        if not self.user.check_password(current):
            raise forms.ValidationError(_("This is not your password: type it once more."))
        return current
