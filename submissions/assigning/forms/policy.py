"""What the school decides: grace, whose clock, redo, how long recordings are kept."""

from typing import ClassVar

from django import forms

from submissions.models import Policy


class PolicyForm(forms.ModelForm[Policy]):
    class Meta:
        model = Policy
        fields = ("grace_minutes", "trust_phone_time", "redo", "keep_takes_days")
        labels: ClassVar = {
            "grace_minutes": "Minutes of grace",
            "trust_phone_time": "Trust the phone's clock when there was no network",
            "redo": "When a student plays again",
            "keep_takes_days": "Days recordings are kept",
        }
        widgets: ClassVar = {"redo": forms.RadioSelect}
        error_messages: ClassVar = {
            "grace_minutes": {
                "max_value": "Grace is a day at most: write 0 to 1440 minutes.",
                "min_value": "Grace is a day at most: write 0 to 1440 minutes.",
                "invalid": "Write grace in whole minutes, such as 10.",
                "required": "Write grace in whole minutes; 0 for none.",
            },
            "redo": {
                "required": "Choose which attempt counts.",
                "invalid_choice": "Choose which attempt counts.",
            },
            "keep_takes_days": {
                "max_value": "Recordings are kept for 1 to 730 days.",
                "min_value": "Recordings are kept for 1 to 730 days.",
                "invalid": "Write whole days, such as 120.",
                "required": "Write for how many days recordings are kept, such as 120.",
            },
        }
