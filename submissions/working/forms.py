"""What a director writes for students to get ready."""

from django import forms

from submissions.working.checklists import LONGEST_ITEM, MOST_ITEMS


class ChecklistForm(forms.Form):
    """One thing to get ready a line."""

    items = forms.CharField(
        label="What to get ready, one thing a line",
        help_text="Short sentences a sixth-grader can read.",
        max_length=(LONGEST_ITEM + 2) * MOST_ITEMS,
        widget=forms.Textarea(attrs={"rows": 8}),
        error_messages={"required": "Write at least one thing, or go back to the usual list."},
    )

    def clean_items(self) -> list[str]:
        """Empty lines and repeated ones are dropped."""
        lines = [" ".join(line.split()) for line in str(self.cleaned_data["items"]).splitlines()]
        items = list(dict.fromkeys(line for line in lines if line))
        if len(items) > MOST_ITEMS:
            raise forms.ValidationError(
                f"That is {len(items)} things. Keep it to {MOST_ITEMS}, so that it is read."
            )
        too_long = next((item for item in items if len(item) > LONGEST_ITEM), None)
        if too_long:
            raise forms.ValidationError(f"“{too_long[:30]}…” is too long. Say it in {LONGEST_ITEM} letters.")
        return items
