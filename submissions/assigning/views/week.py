"""The week board: the first page of a director's day."""

from datetime import date, timedelta

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.timezone import now
from django.views.decorators.http import require_safe

from bandroom.people.access import signed_in, staff_or_404
from bandroom.people.models import Band
from submissions.assigning.board import week_board
from submissions.assigning.deadlines import monday_of
from submissions.assigning.decisions import SHOWN, needs_a_decision, ready_to_mark
from submissions.assigning.school_years import SchoolYear
from submissions.turn_ins.policy import policy_of
from submissions.upkeep.notices import notices

YEARS = range(2000, 2100)


@require_safe
@signed_in
def week(request: HttpRequest) -> HttpResponse:
    band = staff_or_404(request).band
    at = now()
    this_monday = monday_of(band.local(at).date())
    monday = _monday_asked_for(request) or this_monday
    policy = policy_of(band)
    decisions = needs_a_decision(band=band, policy=policy, at=at)
    return render(
        request,
        "submissions/assigning/week.html",
        {
            "band": band,
            "at": at,
            "board": week_board(band=band, monday=monday, at=at),
            "notices": notices(band=band, policy=policy, at=at),
            "keep_days": policy.keep_takes_days,
            "is_this_week": monday == this_monday,
            "week_number": _week_number(band, monday),
            "before": monday - timedelta(weeks=1),
            "after": monday + timedelta(weeks=1),
            "to_mark": ready_to_mark(band=band, at=at),
            "decisions": decisions[:SHOWN],
            "more_decisions": max(0, len(decisions) - SHOWN),
        },
    )


def _monday_asked_for(request: HttpRequest) -> date | None:
    """The Monday of the week with ?monday= in it; None, with a word about it, where that is no date."""
    asked = request.GET.get("monday")
    if not asked:
        return None
    try:
        day = date.fromisoformat(asked)
    except ValueError:
        day = date.min
    if day.year not in YEARS:
        messages.warning(request, "That address names no day, so here is this week.")
        return None
    return monday_of(day)


def _week_number(band: Band, monday: date) -> int | None:
    """Counted from the week that school begins in; None outside the school year."""
    year = SchoolYear.of(monday, band=band)
    begins = band.school_year_starts
    if year != SchoolYear.of(begins, band=band) or monday > band.school_year_ends:
        return None
    weeks = (monday - monday_of(begins)).days // 7 + 1
    return weeks if weeks > 0 else None
