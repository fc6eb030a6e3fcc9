"""Set a password, once for each link."""

from django.contrib.auth.hashers import make_password

from bandroom.people.errors import Refused
from bandroom.people.models import User


def set_password(*, user: User, new: str) -> None:
    """Only if the password is still the one `user` was read with: of two presses of one link, one counts."""
    hashed = make_password(new)
    if not User.objects.filter(pk=user.pk, password=user.password).update(password=hashed):
        raise Refused("The password was changed elsewhere just now: reload the page and try once more.")
    user.password = hashed
