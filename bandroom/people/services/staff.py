"""Directors and substitutes: invite, let go, give a link to set a password."""

from dataclasses import dataclass
from datetime import datetime

from django.db import IntegrityError, transaction

from bandroom.people.errors import Refused
from bandroom.people.models import Band, Membership, Role, User
from bandroom.people.signing_in import normal_name


@dataclass(frozen=True, slots=True)
class Invited:
    """`needs_link`: the person has no password yet and gets a one-time link to set one."""

    membership: Membership
    needs_link: bool


@transaction.atomic
def invite_staff(*, band: Band, email: str, first_name: str, last_name: str, role: Role) -> Invited:
    """Make someone a director or a substitute of `band`.

    Whoever is known on this server by that address already, perhaps from another band, keeps the name and the
    password that are there: an invitation is no way to take over an account.
    """
    if role == Role.STUDENT:
        raise ValueError("Students are not invited: use create_student.")
    name = normal_name(email)
    user = User.objects.filter(sign_in_name=name).first()
    if user is None:
        try:
            with transaction.atomic():
                user = User.objects.create_user(name, first_name=first_name, last_name=last_name)
        except IntegrityError:
            raise Refused(f"{name} was invited by someone else just now: reload the page.") from None
    membership, is_new = Membership.objects.get_or_create(band=band, user=user, defaults={"role": role})
    if not is_new:
        if membership.role == Role.STUDENT:
            raise Refused(f"{name} is a student of this band: use another e-mail address.")
        came_back = Membership.objects.filter(pk=membership.pk, ended_at__isnull=False).update(
            ended_at=None, role=role
        )
        if not came_back:
            raise Refused(f"{user} is on the staff already, as {membership.get_role_display().lower()}.")
        membership.refresh_from_db()
    return Invited(membership=membership, needs_link=not user.has_usable_password())


@transaction.atomic
def end_staff(*, membership: Membership, at: datetime) -> None:
    """The person no longer sees the band; a band always keeps a director."""
    directors = set(
        Membership.objects.select_for_update()
        .filter(band_id=membership.band_id, role=Role.DIRECTOR, ended_at__isnull=True)
        .values_list("pk", flat=True)
    )
    if directors == {membership.pk}:
        raise Refused("A band needs a director: invite the next one first.")
    if not Membership.objects.filter(pk=membership.pk, ended_at__isnull=True).update(ended_at=at):
        raise Refused(f"{membership.user} has left the staff already.")
    membership.ended_at = at


def may_give_link(*, membership: Membership) -> bool:
    """A director may let a colleague set a new password only where that opens no other band."""
    return (
        not Membership.objects.filter(user=membership.user, ended_at__isnull=True)
        .exclude(band=membership.band)
        .exists()
    )
