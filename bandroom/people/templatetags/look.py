"""Tags and filters every page is built from. `{% load look %}`, then:

Tags
    {% sign "late" %}                   the drawn sign of a state, silent: put its word beside it
    {% sign "late" small=True %}        the same, smaller
    {% symbol "late" %}                 the end of the sign's id: <use href="#sign-{% symbol state %}">
    {% sign_word "late" %}              the sign followed by its word
    {% key "J" %}                       a keyboard key
    {% time_left due band at %}         "two days left", "due today", "" when it has passed
    {% band sections label="…" %}       the band as it sits; `sections` as in seated.SeatedSection

Filters (`band` is a Band: its clock tells the time)
    {{ due|band_time:band }}            Thursday 26 November, 8:00 pm
    {{ due|band_day:band }}             Thursday 26 November
    {{ due|band_weekday:band }}         Thursday
    {{ due|band_clock:band }}           8:00 pm
    {{ seconds|clock }}                 0:17, for the length of a take

Each also works from Python: the functions take and return plain values.
"""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django import template
from django.utils import dateformat
from django.utils.html import format_html
from django.utils.safestring import SafeString

from bandroom.people.models import Band
from bandroom.people.seated import SeatedSection, drawing_of

register = template.Library()

# The state a page speaks of, its symbol in includes/signs.html, and its word.
SIGNS = {
    "waiting": ("waiting", "waiting"),
    "begun": ("begun", "begun"),
    "marked": ("marked", "marked"),
    "returned": ("marked", "returned"),
    "redo": ("redo", "play again"),
    "not_yet": ("none", "not in"),
    "missing": ("missing", "missing"),
    "late": ("late", "late"),
    "excused": ("excused", "excused"),
    "live": ("live", "live"),
    "booked": ("live", "booked"),
    "absent": ("absent", "did not come"),
    "sending": ("sending", "sending"),
    "needed": ("needed", "needs you"),
}
SMALL_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


@register.simple_tag
def sign(state: str, *, small: bool = False) -> SafeString:
    """The drawing alone, hidden from those who hear the page. KeyError names a state that has no sign."""
    return format_html(
        '<svg class="sign{}" viewBox="0 0 30 18" aria-hidden="true"><use href="#sign-{}"/></svg>',
        " sign--small" if small else "",
        SIGNS[state][0],
    )


@register.simple_tag
def symbol(state: str) -> str:
    """What follows "#sign-" in a drawing that places the sign itself."""
    return SIGNS[state][0]


@register.simple_tag
def sign_word(state: str, *, small: bool = False) -> SafeString:
    return format_html('<span class="sign-word">{}{}</span>', sign(state, small=small), SIGNS[state][1])


@register.simple_tag
def key(name: str) -> SafeString:
    return format_html('<kbd class="key">{}</kbd>', name)


@register.filter
def band_day(moment: datetime, band: Band) -> str:
    return dateformat.format(band.local(moment), "l j F")


@register.filter
def band_weekday(moment: datetime, band: Band) -> str:
    return dateformat.format(band.local(moment), "l")


@register.filter
def band_clock(moment: datetime, band: Band) -> str:
    local = band.local(moment)
    return dateformat.format(local, "g:i ") + ("am" if local.hour < 12 else "pm")


@register.filter
def band_time(moment: datetime, band: Band) -> str:
    return f"{band_day(moment, band)}, {band_clock(moment, band)}"


@register.simple_tag
def time_left(due: datetime, band: Band, at: datetime) -> str:
    """Days are the band's calendar days, so "due tomorrow" is true at nine in the evening as well."""
    if due <= at:
        return ""
    days = (band.local(due).date() - band.local(at).date()).days
    if days == 0:
        return "due today"
    if days == 1:
        return "due tomorrow"
    return f"{SMALL_NUMBERS[days] if days < len(SMALL_NUMBERS) else days} days left"


@register.filter
def clock(seconds: float) -> str:
    """Minutes and seconds; a take of 59.6 seconds is one minute long, as on any player."""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


@register.inclusion_tag("includes/band.html")
def band(sections: Sequence[SeatedSection], *, label: str, public: bool = False) -> dict[str, Any]:
    """`public`: empty chairs and sections' names, for a page anyone can open. It names nobody."""
    return {"drawing": drawing_of(sections), "label": label, "public": public}
