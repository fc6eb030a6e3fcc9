"""Reads what a phone declares. Nothing is kept of it that is not named here; a file's name is not."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django import forms
from django.utils.translation import gettext as _

from submissions.models import Take
from submissions.takes.declarations import Declaration, Press
from submissions.takes.refusals import Malformed

# Real bodies are far below it; more is no declaration.
MOST_JSON_BYTES = 64 * 1024
LONGEST_LEAD_SECONDS = 30
SLOWEST_TEMPO, FASTEST_TEMPO = 20, 400


class DeclarationForm(forms.Form):
    id = forms.UUIDField()
    lines = forms.JSONField()
    bytes = forms.IntegerField(min_value=0, max_value=2**53)
    sha256 = forms.RegexField(r"\A[0-9a-f]{64}\Z")
    origin = forms.ChoiceField(choices=Take.Origin.choices)
    recorded_at = forms.DateTimeField(required=False)
    lead_seconds = forms.FloatField(min_value=0, max_value=LONGEST_LEAD_SECONDS, required=False)

    tempos = forms.JSONField(required=False)

    def clean_tempos(self) -> dict[str, int]:
        """Quarter notes a minute by line. What makes no sense is left out: no reason to refuse a take."""
        tempos = self.cleaned_data["tempos"]
        return {
            line: tempo
            for line, tempo in (tempos.items() if isinstance(tempos, dict) else ())
            if line in self.cleaned_data.get("lines", ())
            and isinstance(tempo, int)
            and SLOWEST_TEMPO <= tempo <= FASTEST_TEMPO
        }

    def clean_lines(self) -> tuple[str, ...]:
        lines = self.cleaned_data["lines"]
        if (
            not isinstance(lines, list)
            or not lines
            or not all(isinstance(line, str) for line in lines)
            or len(set(lines)) != len(lines)
        ):
            raise forms.ValidationError("Name each line once, such as A.")
        return tuple(lines)


class ClockForm(forms.Form):
    """What the phone's own clock says."""

    student = forms.IntegerField()
    phone_time = forms.DateTimeField(required=False)
    pressed_at = forms.DateTimeField(required=False)


@dataclass(frozen=True, slots=True)
class PhoneClock:
    """How a phone's clock stands to the server's.

    A phone says what its clock shows as it sends; the difference to the server's clock puts right every
    other time it says, also when the clock is a day off.
    """

    student: int
    phone_time: datetime | None
    pressed_at: datetime | None
    at: datetime

    def corrected(self, said: datetime | None) -> datetime | None:
        """`said` by the phone's clock as an instant, never later than now."""
        if said is None:
            return None
        try:
            return min(self.at, said + (self.at - self.phone_time) if self.phone_time else said)
        except OverflowError:
            return None

    @property
    def waited(self) -> float:
        """Seconds from the press to the request that told of it, both by the phone's clock."""
        if self.phone_time is None or self.pressed_at is None:
            return 0.0
        return (self.phone_time - self.pressed_at).total_seconds()


def read_json(body: bytes) -> dict[str, Any]:
    """The JSON object in `body`; raises Malformed."""
    try:
        data = json.loads(body) if len(body) <= MOST_JSON_BYTES else None
    except (ValueError, RecursionError):  # no JSON, or brackets a thousand deep
        data = None
    if not isinstance(data, dict):
        raise Malformed(_("The school's computer did not understand that; load the page again and go on."))
    return data


def read_declaration(data: object, *, clock: PhoneClock) -> Declaration:
    """Raises Malformed naming the first field that is wrong; its other fields are ignored."""
    fields = _valid(DeclarationForm, data)
    return Declaration(
        id=fields["id"],
        lines=fields["lines"],
        bytes=fields["bytes"],
        sha256=fields["sha256"],
        origin=Take.Origin(fields["origin"]),
        recorded_at=clock.corrected(fields["recorded_at"]),
        lead_seconds=fields["lead_seconds"],
        tempos=fields["tempos"],
    )


def read_clock(data: Mapping[str, Any], *, at: datetime) -> PhoneClock:
    fields = _valid(ClockForm, data)
    return PhoneClock(
        student=fields["student"],
        phone_time=fields["phone_time"],
        pressed_at=fields["pressed_at"],
        at=at,
    )


def read_press(data: Mapping[str, Any], *, clock: PhoneClock) -> Press:
    takes, declared = data.get("takes"), data.get("declare", [])
    if not isinstance(takes, dict) or not isinstance(declared, list):
        raise _malformed("takes")
    return Press(
        takes={line: _uuid(value) for line, value in takes.items()},
        declarations=tuple(read_declaration(entry, clock=clock) for entry in declared),
        pressed_at=clock.corrected(clock.pressed_at),
    )


def _uuid(value: object) -> UUID:
    try:
        return UUID(str(value))
    except ValueError:
        raise _malformed("takes") from None


def _valid(form_class: type[forms.Form], data: object) -> dict[str, Any]:
    form = form_class(data if isinstance(data, dict) else {})
    if not form.is_valid():
        raise _malformed(next(iter(form.errors)))
    return form.cleaned_data


def _malformed(field: str) -> Malformed:
    return Malformed(
        _("The school's computer did not understand “%(field)s”; load the page again and go on.")
        % {"field": field}
    )
