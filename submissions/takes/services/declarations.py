"""A recording is announced: small, at once, before its bytes, so that on time is provable on a slow line."""

from datetime import datetime

from django.conf import settings
from django.db import transaction
from django.utils.translation import gettext as _

from bandroom.people.models import Membership
from submissions.models import Take
from submissions.takes.declarations import Declaration
from submissions.takes.quotas import check_room
from submissions.takes.refusals import Malformed, NotAllowed, TakeRefused, TooBig
from submissions.turn_ins.own_work import OwnPosting

MEGABYTE = 1024 * 1024


@transaction.atomic
def declare(
    *, own: OwnPosting, membership: Membership, declaration: Declaration, at: datetime
) -> tuple[Take, bool]:
    """Stamp the declaration of one recording with `at`; returns the take and whether it is new.

    Repeating a declaration changes nothing. Raises TakeRefused outside the assignment's time, without
    permission to record, for what cannot be a recording, and where the id names another file.
    """
    known = find_declared(own=own, declaration=declaration)
    if known is not None:
        return known, False
    _check_allowed(own=own, membership=membership, at=at)
    _check_file(own=own, declaration=declaration)
    if own.seat.takes.filter(assignment=own.posting.assignment_id).count() >= settings.TAKES_PER_ASSIGNMENT:
        raise TakeRefused(
            _("You have sent %(count)d takes for this assignment; turn in the best of them.")
            % {"count": settings.TAKES_PER_ASSIGNMENT}
        )
    check_room(seat=own.seat, band=membership.band, count=declaration.bytes)
    take, created = Take.objects.get_or_create(
        pk=declaration.id,
        defaults={
            "assignment": own.posting.assignment,
            "seat": own.seat,
            "lines": list(declaration.lines),
            "origin": declaration.origin,
            "declared_at": at,
            "declared_bytes": declaration.bytes,
            "declared_sha256": declaration.sha256,
            "recorded_at": declaration.recorded_at,
            "lead_seconds": declaration.lead_seconds,
            "tempos": declaration.tempos,
        },
    )
    if not created:  # two requests at once
        check_same(take=take, declaration=declaration, assignment_pk=own.posting.assignment_id)
    return take, created


def find_declared(*, own: OwnPosting, declaration: Declaration) -> Take | None:
    """The take declared earlier under this id. Raises Take.DoesNotExist where it is another student's."""
    take = Take.objects.select_related("seat", "assignment").filter(pk=declaration.id).first()
    if take is None:
        return None
    if take.seat.student_id != own.seat.student_id:
        raise Take.DoesNotExist
    check_same(take=take, declaration=declaration, assignment_pk=own.posting.assignment_id)
    return take


def check_same(*, take: Take, declaration: Declaration, assignment_pk: int) -> None:
    """An id stands for one file; raises TakeRefused where it now names another."""
    if (
        take.declared_sha256 != declaration.sha256
        or take.declared_bytes != declaration.bytes
        or take.assignment_id != assignment_pk
        or tuple(take.lines) != declaration.lines
    ):
        raise TakeRefused(_("Another recording was sent under this name; keep this one and send it as new."))


def _check_allowed(*, own: OwnPosting, membership: Membership, at: datetime) -> None:
    if not own.posting.assignment.takes_recordings:
        raise NotAllowed(_("This assignment is played live; book a check-in instead."))
    if not membership.may_record:
        raise NotAllowed(_("Your school has not agreed to recordings of you; book a check-in instead."))
    if not own.posting.is_open(at):
        raise TakeRefused(
            _("This assignment is closed; your recording stays on this phone, so ask your director.")
        )


def _check_file(*, own: OwnPosting, declaration: Declaration) -> None:
    for line in declaration.lines:
        if line not in own.posting.assignment.lines:
            raise Malformed(
                _("Line %(line)s is not asked for in this assignment; load the page again.")
                % {"line": line[:10]}
            )
    if declaration.bytes == 0:
        raise Malformed(_("This file is empty; record it again or choose another file."))
    if declaration.bytes > settings.TAKE_MAX_BYTES:
        raise TooBig(
            _("This file has %(size)d MB and the most is %(most)d MB; cut it, or send its sound alone.")
            % {
                "size": round(declaration.bytes / MEGABYTE),
                "most": settings.TAKE_MAX_BYTES // MEGABYTE,
            }
        )
