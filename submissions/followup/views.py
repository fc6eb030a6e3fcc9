"""Overview, history and the way to the school's records."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.text import slugify
from django.utils.timezone import now
from django.views.decorators.http import require_safe

from bandroom.people.access import director_or_404, signed_in, staff_or_404
from bandroom.people.models import Membership, Role, Seat
from submissions.assigning.school_years import SchoolYear, current_year
from submissions.followup.exports import marks_csv, term_csv
from submissions.followup.history import history_of
from submissions.followup.overview import by_section
from submissions.models import Assignment
from submissions.section_misses.page import misses_page
from submissions.turn_ins.filters import DeskFilter
from submissions.turn_ins.queries import assignment_or_404, begun, rows_of
from submissions.turn_ins.roster import count_by_standing
from submissions.turn_ins.seating import band_in_seats, seated

# Beyond so many students the table gives numbers alone.
MOST_DRAWN = 300


@require_safe
@signed_in
def assignment(request: HttpRequest, pk: int) -> HttpResponse:
    membership = staff_or_404(request)
    at = now()
    row = assignment_or_404(band=membership.band, pk=pk)
    rows = rows_of(assignment=row, at=at)
    choice = DeskFilter()
    students = seated(rows, assignment=row, choice=choice, begun=begun(assignment=row))
    postings = {found.posting.pk: found.posting for found in rows}
    context = {
        "assignment": row,
        "band": membership.band,
        "at": at,
        "seating": band_in_seats(students, choice=choice, address=reverse("submissions:desk", args=[row.pk])),
        "counts": count_by_standing(rows),
        "sections": by_section(rows),
        "postings": sorted(postings.values(), key=lambda posting: posting.due_at),
        "one_deadline": len({posting.due_at for posting in postings.values()}) == 1,
        "stuck": [found for found in rows if found.stuck],
        "students": len(rows),
        "draws_each": len(rows) <= MOST_DRAWN,
        "missed": misses_page(assignment=row, rows=rows, wanted=request.GET),
    }
    return render(request, "submissions/followup/assignment.html", context)


@require_safe
@signed_in
def board(request: HttpRequest, pk: int) -> HttpResponse:
    """One line with what a section missed, large and without any name, for the class to see."""
    membership = staff_or_404(request)
    row = assignment_or_404(band=membership.band, pk=pk)
    rows = rows_of(assignment=row, at=now())
    context = {
        "assignment": row,
        "missed": misses_page(assignment=row, rows=rows, wanted=request.GET, on_board=True),
    }
    return render(request, "submissions/followup/board.html", context)


@require_safe
@signed_in
def history(request: HttpRequest, pk: int) -> HttpResponse:
    """One student's school year; ?year= goes to an earlier one."""
    membership = staff_or_404(request)
    band, at = membership.band, now()
    student = get_object_or_404(
        Membership.objects.select_related("user", "band"), band=band, pk=pk, role=Role.STUDENT
    )
    this_year = current_year(band=band, at=at)
    year = _year(request, this_year=this_year, membership=membership)
    starts, until = year.span(band=band)
    seats = Seat.objects.filter(student=student.user, section__band=band).select_related("section")
    context = {
        "student": student,
        "band": band,
        "at": at,
        "year": year,
        "earlier": year.number - 1 if seats.filter(since__lt=year.starts).exists() else None,
        "later": year.number + 1 if year.number < this_year.number else None,
        "seats": seats.order_by("-since"),
        "items": history_of(membership=student, starts=starts, until=until, at=at),
    }
    return render(request, "submissions/followup/history.html", context)


@require_safe
@signed_in
def export(request: HttpRequest, pk: int) -> HttpResponse:
    """Marks of one assignment; directors only, since it leaves this server."""
    membership = director_or_404(request)
    row = assignment_or_404(band=membership.band, pk=pk)
    name = f"{slugify(f'no {row.number} {row.exercise.title}')}-marks.csv"
    return _attachment(marks_csv(assignment=row, at=now()), name=name)


@require_safe
@signed_in
def export_term(request: HttpRequest) -> HttpResponse:
    """Marks of all assignments of a school year, this one or ?year=."""
    membership = director_or_404(request)
    band, at = membership.band, now()
    year = _year(request, this_year=current_year(band=band, at=at), membership=membership)
    starts, until = year.span(band=band)
    assignments = (
        Assignment.objects.filter(
            band=band,
            withdrawn_at__isnull=True,
            posted_at__gte=starts,
            posted_at__lt=until,
            postings__opens_at__lte=at,
        )
        .select_related("exercise", "rubric", "band")
        .distinct()
        .order_by("posted_at", "number")
    )
    csv = term_csv(assignments=list(assignments), at=at)
    return _attachment(csv, name=f"marks-{year.label.replace('–', '-')}.csv")


def _year(request: HttpRequest, *, this_year: SchoolYear, membership: Membership) -> SchoolYear:
    wanted = request.GET.get("year", "")
    if wanted.isdecimal() and 2000 <= int(wanted) <= this_year.number:
        return SchoolYear.numbered(int(wanted), band=membership.band)
    return this_year


def _attachment(content: bytes, *, name: str) -> HttpResponse:
    response = HttpResponse(content, content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["Cache-Control"] = "private, no-store"
    return response
