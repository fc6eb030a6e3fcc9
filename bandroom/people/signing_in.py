"""Signing in: students by name-id and passphrase, staff by e-mail and password."""

from django.contrib.auth.backends import ModelBackend
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from bandroom.people.models import User


def normal_name(typed: str) -> str:
    """A sign-in name as stored: no spaces around it, small letters."""
    return typed.strip().lower()


class NameBackend(ModelBackend):
    """Forgives capitals and stray spaces in the sign-in name; Django hashes even for unknown names."""

    def authenticate(
        self,
        request: HttpRequest | None,
        username: str | None = None,
        password: str | None = None,
        **kwargs: object,
    ) -> User | None:
        if username is None or password is None:
            return None
        user = super().authenticate(request, username=normal_name(username), password=password)
        return user if isinstance(user, User) else None


def locked_out(request: HttpRequest, *_args: object, **_kwargs: object) -> HttpResponse:
    return render(request, "people/locked_out.html", status=429)
