"""What every view of the desk opens first: the assignment, the roster, the student; strangers get 404."""

from dataclasses import dataclass
from datetime import datetime

from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.urls import reverse
from django.utils import timezone

from bandroom.people.access import staff_or_404
from bandroom.people.models import Membership, User
from submissions.errors import Changed, Incomplete, Refused
from submissions.grading import queries
from submissions.models import Assignment, TurnIn
from submissions.turn_ins.filters import DeskFilter, Order, next_to_open
from submissions.turn_ins.queries import assignment_or_404, rows_of
from submissions.turn_ins.roster import RosterRow


@dataclass(frozen=True, slots=True)
class Desk:
    """One assignment as it lies on the desk, at this moment."""

    membership: Membership
    assignment: Assignment
    rows: tuple[RosterRow, ...]
    choice: DeskFilter
    ears: dict[int, int] | None
    at: datetime

    @property
    def address(self) -> str:
        return reverse("submissions:desk", args=[self.assignment.pk])

    def address_of(self, row: RosterRow) -> str:
        return reverse("submissions:desk-seat", args=[self.assignment.pk, row.seat.pk]) + self.choice.query()

    def after(self, seat: int) -> str:
        """Where the desk goes on: the next student to open, or the roster when nobody waits."""
        row = next_to_open(self.rows, self.choice, after=seat, ears=self.ears)
        return self.address_of(row) if row else self.address + self.choice.query(state=None)


def open_desk(request: HttpRequest, pk: int) -> Desk:
    membership = staff_or_404(request)
    assignment = assignment_or_404(band=membership.band, pk=pk)
    choice = DeskFilter.read(request.GET)
    at = timezone.now()
    return Desk(
        membership=membership,
        assignment=assignment,
        rows=rows_of(assignment=assignment, at=at),
        choice=choice,
        ears=queries.ears_needed(assignment=assignment) if choice.order is Order.EAR else None,
        at=at,
    )


def turn_in_or_404(request: HttpRequest, pk: int, seat: int) -> TurnIn:
    """One student's turn-in of one assignment of this band."""
    membership = staff_or_404(request)
    found = TurnIn.objects.select_related("assignment__exercise", "assignment__rubric", "seat__student")
    turn_in = found.filter(assignment__band=membership.band, assignment=pk, seat=seat).first()
    if turn_in is None:
        raise Http404
    return turn_in


def user_of(request: HttpRequest) -> User:
    """The signed-in person: `signed_in` has let nobody else through."""
    assert isinstance(request.user, User)  # noqa: S101 - narrows the type
    return request.user


def is_scripted(request: HttpRequest) -> bool:
    """Sent by the page's own module, which wants an answer it can read."""
    return request.headers.get("X-Requested-With") == "bandroom"


def refusal(refused: Refused) -> HttpResponse:
    """409 with the sentence, and what stands there now where somebody else was quicker."""
    answer = {"sentence": refused.sentence, "kind": "refused"}
    if isinstance(refused, Changed):
        answer |= {"kind": "changed", "now": refused.now}
    elif isinstance(refused, Incomplete):
        answer |= {"kind": "incomplete"}
    return JsonResponse(answer, status=409)


def invalid(sentence: str) -> HttpResponse:
    return JsonResponse({"sentence": sentence, "kind": "invalid"}, status=422)
