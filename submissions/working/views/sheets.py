"""Sheets to print: a student's own, and for staff those of one student or of a section."""

from collections.abc import Sequence
from datetime import datetime

from django.contrib import messages
from django.db.models import prefetch_related_objects
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.timezone import now
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
from django.views.decorators.http import require_safe

from bandroom.people.access import signed_in, staff_or_404, student_or_404
from bandroom.people.models import Seat
from bandroom.people.paper import Paper
from bandroom.people.printing import CannotPrint
from exercises.models import PARTS_NEED
from exercises.music.errors import MusicError
from submissions.models import Assignment
from submissions.turn_ins.roster import roster
from submissions.working.views.steps import own_or_404

ASK_FOR_PAPER = gettext_noop("This page cannot be made here. Ask your director for it on paper.")


@require_safe
@signed_in
def my_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    membership = student_or_404(request)
    own = own_or_404(membership=membership, pk=pk)
    rows = [(own.seat, own.posting.due_at, membership.may_record)]
    return _pdf(request, assignment=own.posting.assignment, rows=rows, back="submissions:my-assignment")


@require_safe
@signed_in
def sheets(request: HttpRequest, pk: int) -> HttpResponse:
    """`?seat=` for one student, `?section=` for a section."""
    band = staff_or_404(request).band
    assignment = get_object_or_404(Assignment.objects.select_related("exercise", "band"), band=band, pk=pk)
    seat, section = request.GET.get("seat", ""), request.GET.get("section", "")
    rows = [
        (row.seat, row.posting.due_at, row.may_record)
        for row in roster(assignment=assignment, at=now())
        if seat == str(row.seat.pk) or section == str(row.seat.section_id)
    ]
    if not rows:
        raise Http404
    return _pdf(request, assignment=assignment, rows=rows, back="submissions:assignment")


def _pdf(
    request: HttpRequest, *, assignment: Assignment, rows: Sequence[tuple[Seat, datetime, bool]], back: str
) -> HttpResponse:
    try:
        from submissions.working.paper.sheets import Reader, sheets_pdf  # noqa: PLC0415 - WeasyPrint, for who prints
    except CannotPrint as refused:
        is_student = back == "submissions:my-assignment"
        messages.error(request, _(ASK_FOR_PAPER) if is_student else refused.sentence)
        return redirect(back, pk=assignment.pk)
    prefetch_related_objects([assignment.exercise], *PARTS_NEED)
    paper = Paper.usual_in(assignment.band.time_zone)
    readers = [
        Reader(seat=seat, due_at=due_at, may_record=may_record and assignment.takes_recordings)
        for seat, due_at, may_record in rows
    ]
    try:
        pdf = sheets_pdf(assignment=assignment, readers=readers, paper=paper)
    except MusicError as error:
        messages.error(request, error.message)
        return redirect(back, pk=assignment.pk)
    name = f"assignment-{assignment.number}.pdf"
    return HttpResponse(
        pdf,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"', "Cache-Control": "private, no-store"},
    )
