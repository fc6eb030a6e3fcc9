"""A phone announces takes, turns them in, and asks how one stands."""

from datetime import datetime
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.utils.timezone import now
from django.views.decorators.http import require_POST, require_safe

from bandroom.people.access import membership_or_404, signed_in, student_or_404
from bandroom.people.models import Membership
from submissions.takes.forms import read_clock, read_declaration, read_json, read_press
from submissions.takes.queries import heard_by
from submissions.takes.services import declarations
from submissions.takes.services import press as pressing
from submissions.takes.views.answers import check_same_student, plainly, private_json, take_state
from submissions.turn_ins.own_work import OwnPosting, own_posting
from submissions.turn_ins.policy import policy_of
from submissions.turn_ins.standing import is_late


def _own_posting_or_404(membership: Membership, *, pk: int, at: datetime) -> OwnPosting:
    own = own_posting(student=membership.user, band=membership.band, assignment_pk=pk, at=at)
    if own is None:
        raise Http404
    return own


@require_POST
@signed_in
@plainly
def declare(request: HttpRequest, pk: int) -> HttpResponse:
    """Stamp one recording; 201 the first time, 200 for every repetition."""
    membership, at = student_or_404(request), now()
    own = _own_posting_or_404(membership, pk=pk, at=at)
    data = read_json(request.body)
    clock = read_clock(data, at=at)
    check_same_student(request, student=clock.student)
    declaration = read_declaration(data, clock=clock)
    take, is_new = declarations.declare(own=own, membership=membership, declaration=declaration, at=at)
    return private_json(take_state(take), status=201 if is_new else 200)


@require_POST
@signed_in
@plainly
def turn_in(request: HttpRequest, pk: int) -> HttpResponse:
    """Name the take that counts for each line, announcing them in the same small request if need be."""
    membership, at = student_or_404(request), now()
    own = _own_posting_or_404(membership, pk=pk, at=at)
    data = read_json(request.body)
    clock = read_clock(data, at=at)
    check_same_student(request, student=clock.student)
    press = read_press(data, clock=clock)
    row, takes = pressing.turn_in(
        own=own, membership=membership, press=press, waited_seconds=clock.waited, at=at
    )
    late = is_late(turn_in=row, posting=own.posting, policy=policy_of(membership.band))
    return private_json(
        {
            "state": row.state,
            "turned_in_at": row.turned_in_at,
            "late": late,
            "takes": {line: take_state(take) for line, take in takes.items()},
        }
    )


@require_safe
@signed_in
@plainly
def take(request: HttpRequest, take_pk: UUID) -> HttpResponse:
    """How a take stands, with the receipt once the whole file is here."""
    membership = membership_or_404(request)
    found = heard_by(membership).filter(pk=take_pk).first()
    if found is None:
        raise Http404
    return private_json(take_state(found))
