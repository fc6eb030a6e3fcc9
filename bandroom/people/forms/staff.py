"""Inviting a director or a substitute."""

from django import forms

from bandroom.people.forms.fields import OneLineField
from bandroom.people.models import Role


class InviteForm(forms.Form):
    email = forms.EmailField(
        label="E-mail address",
        max_length=254,
        help_text="The name to sign in with. Nothing is sent: you get a link to hand over.",
    )
    first_name = OneLineField(label="First name", max_length=60, help_text="With Ms. or Mr. if you like.")
    last_name = OneLineField(label="Last name", max_length=80, required=False)
    role = forms.TypedChoiceField(
        label="May do",
        choices=[
            (Role.SUBSTITUTE, "Substitute: sees and marks; no export, no deleting, no policy"),
            (Role.DIRECTOR, "Director: everything you may do"),
        ],
        coerce=Role,
        initial=Role.SUBSTITUTE,
        widget=forms.RadioSelect,
    )
