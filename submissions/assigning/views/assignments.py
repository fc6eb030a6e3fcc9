"""All assignments of a school year: coming, open, closed."""

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.timezone import now
from django.views.decorators.http import require_safe

from bandroom.people.access import signed_in, staff_or_404
from submissions.assigning import queries
from submissions.assigning.listing import list_entry
from submissions.assigning.school_years import SchoolYear, current_year

CLOSED_A_PAGE = 20
YEARS = range(2000, 2100)


@require_safe
@signed_in
def assignments(request: HttpRequest) -> HttpResponse:
    band = staff_or_404(request).band
    at = now()
    this_year = current_year(band=band, at=at)
    asked = request.GET.get("year", "")
    year = this_year
    if asked.isdecimal() and int(asked) in YEARS:
        year = SchoolYear.numbered(int(asked), band=band)
    first = queries.first_posted_at(band=band)
    oldest = SchoolYear.of(band.local(first).date(), band=band).number if first else this_year.number

    running = list(queries.assignments_of_year(band=band, year=year, at=at, closed=False))
    over = queries.assignments_of_year(band=band, year=year, at=at, closed=True)
    closed = Paginator(over, CLOSED_A_PAGE).get_page(request.GET.get("page"))
    found = [*running, *closed.object_list]
    waiting = queries.waiting_by_assignment(found)
    listed = [list_entry(assignment, waiting=waiting.get(assignment.pk, 0), at=at) for assignment in found]
    return render(
        request,
        "submissions/assigning/assignments.html",
        {
            "band": band,
            "at": at,
            "year": year,
            "years": [
                SchoolYear.numbered(number, band=band)
                for number in range(max(this_year.number, year.number), oldest - 1, -1)
            ],
            "groups": [
                ("Open now", [entry for entry in listed if entry.has_opened and not entry.has_closed]),
                ("Coming", [entry for entry in reversed(listed) if not entry.has_opened]),
                ("Closed", [entry for entry in listed if entry.has_closed]),
            ],
            "page_obj": closed,
        },
    )
