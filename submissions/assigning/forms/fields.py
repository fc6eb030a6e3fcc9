"""Form fields for times on the band's clock."""

from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import forms

from submissions.assigning.deadlines import NoSuchTime, Twice, instant, wall_clock

AS_TYPED = "%Y-%m-%dT%H:%M"
YEARS = range(2000, 2100)


class BandTimeField(forms.Field):
    """A date and time as the band's clock shows it, cleaned to an instant.

    `kept` is the instant stored before: written back unchanged it stays itself, though the clock may show
    that time twice.
    """

    default_error_messages = {  # noqa: RUF012 - Django's own way to name them
        "required": "Choose a day and a time.",
        "invalid": "Write the day and the time like 2026-10-08 20:00.",
    }

    def __init__(self, *, zone: ZoneInfo, twice: Twice, kept: datetime | None = None, **kwargs: Any) -> None:
        widget = forms.DateTimeInput(format=AS_TYPED, attrs={"type": "datetime-local", "step": "60"})
        super().__init__(widget=widget, initial=kept, **kwargs)
        self.zone = zone
        self.twice = twice
        self.kept = kept

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, datetime) and value.tzinfo is not None:
            return wall_clock(value, zone=self.zone).strftime(AS_TYPED)
        return value

    def to_python(self, value: Any) -> datetime | None:
        if value in self.empty_values:
            return None
        try:
            wall = datetime.fromisoformat(str(value).strip())
        except ValueError:
            raise forms.ValidationError(self.error_messages["invalid"], code="invalid") from None
        if wall.tzinfo is not None or wall.year not in YEARS:
            raise forms.ValidationError(self.error_messages["invalid"], code="invalid")
        wall = wall.replace(second=0, microsecond=0)
        if self.kept is not None and wall == wall_clock(self.kept, zone=self.zone):
            return self.kept.astimezone(UTC)
        try:
            return instant(wall, zone=self.zone, twice=self.twice)
        except NoSuchTime as error:
            raise forms.ValidationError(str(error), code="skipped") from error
