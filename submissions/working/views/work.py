"""The student's pages."""

from urllib.parse import quote

from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.timezone import now
from django.views.decorators.http import require_safe

from bandroom.people.access import signed_in, student_or_404
from bandroom.people.models import Membership
from submissions.models import TurnIn
from submissions.turn_ins.own_work import OwnPosting, own_posting
from submissions.turn_ins.policy import policy_of
from submissions.turn_ins.standing import Standing
from submissions.working.days import days_to_due
from submissions.working.offline import is_only_kept, kept_offline
from submissions.working.pages import LinePage, line_page
from submissions.working.queries import (
    asked_lines,
    came_back,
    earlier_work,
    own_takes,
    recent_work,
    work_items,
)
from submissions.working.services.returns import see_return
from submissions.working.steps.frame import frame
from submissions.working.steps.strip import done_of, owed, step_cells
from submissions.working.words import recorder_words, work_words

EARLIER_A_PAGE = 20
# Far above any line; the server's own limit (TAKE_MAX_SECONDS) is longer.
LONGEST_RECORDING_SECONDS = 10 * 60
TO_DO = {Standing.NOT_YET, Standing.MISSING, Standing.REDO, Standing.LIVE}


@require_safe
@signed_in
@kept_offline
def my_work(request: HttpRequest) -> HttpResponse:
    membership = student_or_404(request)
    at = now()
    items = recent_work(student=membership.user, band=membership.band, at=at)
    is_open = {item: item.own.posting.is_open(at) for item in items}
    to_do = [item for item in items if (item.standing in TO_DO or item.lines.to_come) and is_open[item]]
    back = [item for item in items if item.standing is Standing.MARKED][::-1]
    rest = [item for item in items if item not in to_do and item not in back][::-1]
    alerts = [(item, says) for item in items if is_open[item] for says in item.lines.alerts]
    context = {
        "alerts": alerts,
        "to_do": to_do,
        "back": back,
        "rest": rest,
        "at": at,
        "band": membership.band,
    }
    return render(request, "submissions/working/my_work.html", context)


@require_safe
@signed_in
def my_earlier_work(request: HttpRequest) -> HttpResponse:
    membership = student_or_404(request)
    at = now()
    pages = Paginator(earlier_work(student=membership.user, band=membership.band, at=at), EARLIER_A_PAGE)
    page = pages.get_page(request.GET.get("page"))
    items = work_items(own=list(page.object_list), band=membership.band, at=at)
    context = {"page_obj": page, "items": items, "band": membership.band}
    return render(request, "submissions/working/earlier.html", context)


@require_safe
@signed_in
@kept_offline
def my_assignment(request: HttpRequest, pk: int) -> HttpResponse:
    """What is due, my part, my takes, and what came back."""
    membership = student_or_404(request)
    at = now()
    own = _own_or_404(membership=membership, pk=pk)
    (item,) = work_items(own=[own], band=membership.band, at=at)
    back = came_back(own=own)
    if back is not None and back.returned.seen_at is None and not is_only_kept(request):
        see_return(returned=back.returned, at=at)
    lines = _lines(own)
    context = frame(membership=membership, own=own, item=item, now_at="turn-in", at=at) | {
        "days": days_to_due(due_at=own.posting.due_at, band=membership.band, at=at),
        "lines": lines,
        "asks_again": own.turn_in is not None and own.turn_in.state == TurnIn.State.REDO,
        "takes": own_takes(own=own),
        "back": back,
        "policy": policy_of(membership.band),
        "page_data": _page_data(membership=membership, own=own, lines=lines)
        | {
            "linesIn": item.lines.here,
            "words": work_words(),
            "signIn": f"{reverse('people:sign-in')}?next={quote(request.path)}",
        },
    }
    return render(request, "submissions/working/assignment.html", context)


@require_safe
@signed_in
@kept_offline
def record(request: HttpRequest, pk: int, labels: str) -> HttpResponse:
    """The recorder for one line, or for all lines in one go."""
    membership = student_or_404(request)
    own = _own_or_404(membership=membership, pk=pk)
    assignment = own.posting.assignment
    asked = "".join(assignment.lines)
    if labels not in {*assignment.lines, asked}:
        raise Http404
    context = {
        "own": own,
        "assignment": assignment,
        "labels": labels,
        "is_open": own.posting.is_open(now()),
        "may_record": assignment.takes_recordings and membership.may_record,
    }
    context["owed"] = (
        owed(step_cells(own, done_of(own)), assignment=assignment) if assignment.first_steps else ()
    )
    if context["is_open"] and context["may_record"] and not context["owed"]:
        lines = [line for line in _lines(own) if line.label in labels]
        page_data = _page_data(membership=membership, own=own, lines=lines) | {
            "words": recorder_words(),
            "longestSeconds": LONGEST_RECORDING_SECONDS,
        }
        context |= {"lines": lines, "page_data": page_data}
    return render(request, "submissions/working/record.html", context)


def _own_or_404(*, membership: Membership, pk: int) -> OwnPosting:
    own = own_posting(student=membership.user, band=membership.band, assignment_pk=pk, at=now())
    if own is None:
        raise Http404
    return own


def _lines(own: OwnPosting) -> list[LinePage]:
    assignment = own.posting.assignment
    return [
        line_page(line=line, assignment=assignment, instrument=own.seat.instrument)
        for line in asked_lines(assignment)
    ]


def _page_data(*, membership: Membership, own: OwnPosting, lines: list[LinePage]) -> dict[str, object]:
    return {
        "user": membership.user_id,
        "assignment": own.posting.assignment_id,
        "lines": [line.timing for line in lines],
    }
