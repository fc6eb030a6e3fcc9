"""Signing in: students by name-id and passphrase, staff by e-mail and password."""

import ipaddress
import math
from datetime import timedelta

from django.conf import settings
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


def visitor_address(request: HttpRequest) -> str | None:
    """The address that tries are counted for; None where there is none, as on a local socket.

    Only the entries of X-Forwarded-For that our own proxies wrote are believed; whatever a visitor puts in
    front of them changes nothing.
    """
    candidates = [str(request.META.get("REMOTE_ADDR", ""))]
    if settings.PROXY_COUNT > 0:
        forwarded = request.headers.get("X-Forwarded-For", "").split(",")
        candidates = [*forwarded[-settings.PROXY_COUNT :][:1], *candidates]
    for candidate in candidates:
        try:
            return str(ipaddress.ip_address(candidate.strip()))
        except ValueError:
            continue
    return None


def too_soon(request: HttpRequest, *, wait: timedelta) -> HttpResponse:
    """Too many wrong tries: say for how long to wait, in plain words. Nothing is looked up meanwhile."""
    seconds = math.ceil(wait.total_seconds())
    response = render(request, "429.html", {"minutes": math.ceil(seconds / 60)}, status=429)
    response["Retry-After"] = str(seconds)
    return response
