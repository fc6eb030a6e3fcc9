"""A link that lets one person set a password once: no e-mail server is needed, a director hands it over.

Made by Django's own token generator: signed, dead after PASSWORD_RESET_TIMEOUT, and dead as soon as the
password it was made for has changed, so after one use.
"""

from django.contrib.auth.tokens import default_token_generator
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_decode, urlsafe_base64_encode

from bandroom.people.models import Membership, User


def password_link(user: User) -> str:
    """The path on this server."""
    uid = urlsafe_base64_encode(force_bytes(user.pk))
    return reverse("people:set-password", args=[uid, default_token_generator.make_token(user)])


def user_of_link(uid: str, token: str) -> User | None:
    """Whose link it is; None for one that is spent, too old or not ours."""
    try:
        pk = int(urlsafe_base64_decode(uid).decode("ascii"))
    except (ValueError, OverflowError):
        return None
    if not 0 < pk < 2**63:
        return None
    belongs = Membership.objects.filter(user=pk, ended_at__isnull=True).exists()
    user = User.objects.filter(pk=pk, is_active=True).first() if belongs else None
    return user if user and default_token_generator.check_token(user, token) else None
