"""Which takes, and who may see them."""

from uuid import UUID

from django.db.models import Q, QuerySet

from bandroom.people.models import Membership, Seat
from submissions.models import Assignment, Take


def own_take_or_none(*, membership: Membership, pk: UUID) -> Take | None:
    """The student's own take in the band they are signed in to; None for everybody else's."""
    return (
        Take.objects.filter(pk=pk, seat__student=membership.user_id, assignment__band=membership.band_id)
        .select_related("seat", "assignment")
        .first()
    )


def heard_by(membership: Membership) -> QuerySet[Take]:
    """Takes this member may play: the band's staff all of the band's, a student their own."""
    in_band = Q(assignment__band=membership.band_id)
    if not membership.is_staff:
        in_band &= Q(seat__student=membership.user_id)
    return Take.objects.filter(in_band).select_related("seat", "assignment")


def takes_of(*, seat: Seat, assignment: Assignment) -> QuerySet[Take]:
    """Every take of a seat for an assignment, in the order they were declared."""
    return Take.objects.filter(seat=seat, assignment=assignment)
