"""Tags and filters every page is built from. `{% load look %}`, then:

Tags
    {% sign "late" %}                   the drawn sign of a state, silent: put its word beside it
    {% sign "late" small=True %}        the same, smaller
    {% symbol "late" %}                 the end of the sign's id: <use href="#sign-{% symbol state %}">
    {% sign_word "late" %}              the sign followed by its word
    {% key "J" %}                       a keyboard key
    {% time_left due band at %}         "two days left", "due today", "" when it has passed
    {% page_words %}                    what the scripts of every page say, once, in base.html
    {% band sections label="…" %}       the band as it sits; `sections` as in seated.SeatedSection

Filters (`band` is a Band: its clock tells the time)
    {{ due|band_time:band }}            Thursday 26 November, 8:00 pm
    {{ due|band_day:band }}             Thursday 26 November
    {{ due|band_weekday:band }}         Thursday
    {{ due|band_clock:band }}           8:00 pm
    {{ seconds|clock }}                 0:17, for the length of a take
    {{ seat|instrument_name }}          B♭ clarinet, in the language of the page
    {{ lines|join_and }}                A, B and C

Each also works from Python: the functions take and return plain values.
"""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from django import template
from django.utils import dateformat
from django.utils.html import format_html, json_script
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext, pgettext

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Seat
from bandroom.people.seated import SeatedSection, drawing_of

register = template.Library()

# The state a page speaks of, its symbol in includes/signs.html, and its word.
SIGNS = {
    "waiting": ("waiting", gettext_noop("waiting")),
    "begun": ("begun", gettext_noop("begun")),
    "marked": ("marked", gettext_noop("marked")),
    "returned": ("marked", gettext_noop("returned")),
    "redo": ("redo", gettext_noop("play again")),
    "not_yet": ("none", gettext_noop("not in")),
    "missing": ("missing", gettext_noop("missing")),
    "late": ("late", gettext_noop("late")),
    "excused": ("excused", gettext_noop("excused")),
    "live": ("live", gettext_noop("live")),
    "booked": ("live", gettext_noop("booked")),
    "absent": ("absent", gettext_noop("did not come")),
    "sending": ("sending", gettext_noop("sending")),
    "needed": ("needed", gettext_noop("needs you")),
}
SMALL_NUMBERS = (
    *("0", "1", gettext_noop("two"), gettext_noop("three"), gettext_noop("four"), gettext_noop("five")),
    *(gettext_noop("six"), gettext_noop("seven"), gettext_noop("eight"), gettext_noop("nine")),
    gettext_noop("ten"),
)


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
    return format_html('<span class="sign-word">{}{}</span>', sign(state, small=small), _(SIGNS[state][1]))


@register.simple_tag
def key(name: str) -> SafeString:
    return format_html('<kbd class="key">{}</kbd>', name)


@register.filter
def band_day(moment: datetime, band: Band) -> str:
    return dateformat.format(band.local(moment), pgettext("date format", "l j F"))


@register.filter
def band_weekday(moment: datetime, band: Band) -> str:
    return dateformat.format(band.local(moment), "l")


@register.filter
def band_clock(moment: datetime, band: Band) -> str:
    local = band.local(moment)
    half = pgettext("time of day", "am") if local.hour < 12 else pgettext("time of day", "pm")
    return f"{dateformat.format(local, 'g:i')} {half}"


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
        return _("due today")
    if days == 1:
        return _("due tomorrow")
    number = _(SMALL_NUMBERS[days]) if days < len(SMALL_NUMBERS) else str(days)
    return ngettext("%(number)s day left", "%(number)s days left", days) % {"number": number}


@register.filter
def clock(seconds: float) -> str:
    """Minutes and seconds; a take of 59.6 seconds is one minute long, as on any player."""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


@register.simple_tag
def page_words() -> SafeString:
    """What the scripts of every page say; words.js reads it."""
    words = {
        "no": _("Go back"),
        "yes": _("Yes"),
        "copied": _("Copied"),
        "copiedSays": _("Copied."),
        "selected": _("Selected. Press Ctrl and C to copy."),
    }
    return json_script(words, "page-words")


@register.filter
def join_and(words: Iterable[str]) -> str:
    """ "A", "A and B", "A, B and C"; also for the letters of one word."""
    *before, last = words
    return _("%(before)s and %(last)s") % {"before": ", ".join(before), "last": last} if before else last


@register.filter
def instrument_name(seat: Seat) -> str:
    return Instrument(seat.instrument).local_name


@register.inclusion_tag("includes/band.html")
def band(sections: Sequence[SeatedSection], *, label: str, public: bool = False) -> dict[str, Any]:
    """`public`: empty chairs and sections' names, for a page anyone can open. It names nobody."""
    return {"drawing": drawing_of(sections), "label": label, "public": public}
