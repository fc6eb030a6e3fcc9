"""Guessing at the door is slowed down; nobody is locked out.

Each wrong try takes a place; places come back one by one. Four things are counted:

- an account from one network: a class that plays tricks in one room uses up that room's places alone;
- an account from everywhere: what bounds how fast a card can be guessed, by however many machines;
- a network: a school behind one address has room for a whole grade that mistypes; IPv6 by its /64,
  which one household or one room has to itself (RFC 6177, section 2);
- an account in a browser that signed it in before: counted by itself, so that nobody else's tries matter.

Three words of 1,095 make 1.3 thousand million cards. At one try in ten minutes, the pace at which an
account's places come back, guessing any of 1,000 students takes 12 years on average;
`tests/people/test_throttle.py` does the sum.
"""

import contextlib
import ipaddress
import math
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.core import signing
from django.db import DatabaseError, transaction
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import salted_hmac

from bandroom.people.models import WrongTries
from bandroom.people.signing_in import visitor_address

SALT = "bandroom.people.throttle"
COOKIE = "browser"
COOKIE_KEPT = timedelta(days=365)
#: Accounts that one browser is remembered for: a family's, not a school's.
MOST_ACCOUNTS = 6
IPV6_NETWORK = 64


@dataclass(frozen=True, slots=True)
class Room:
    """So many places, of which one comes back after each `rest`."""

    places: int
    rest: timedelta


ACCOUNT_HERE = Room(places=20, rest=timedelta(minutes=10))
ACCOUNT = Room(places=60, rest=timedelta(minutes=10))
NETWORK = Room(places=300, rest=timedelta(seconds=6))
KNOWN = Room(places=30, rest=timedelta(minutes=1))

type Counted = tuple[str, Room]


def wait(request: HttpRequest, *, name: str, at: datetime) -> timedelta:
    """How long until this name may be tried from here again; nothing where it may be tried now. One query."""
    rooms = dict(_counted(request, name=name))
    rows = WrongTries.objects.filter(counted__in=rooms)
    return max((_wait(row, rooms[row.counted], at=at) for row in rows), default=timedelta())


def note_wrong(request: HttpRequest, *, name: str, at: datetime) -> None:
    """Take a place of each. A full disk counts nothing, so that whoever has the right words still gets in."""
    with contextlib.suppress(DatabaseError), transaction.atomic():
        for counted, room in sorted(_counted(request, name=name), key=lambda one: one[0]):
            row, is_new = WrongTries.objects.select_for_update().get_or_create(
                counted=counted, defaults={"used": 1.0, "at": at}
            )
            if not is_new:
                row.used, row.at = _left(row, room, at=at) + 1, at
                row.save(update_fields=["used", "at"])


def note_right(request: HttpRequest, *, name: str) -> None:
    """Whoever has the right words starts anew here; what others tried elsewhere still counts."""
    here = [counted for counted, room in _counted(request, name=name) if room in {ACCOUNT_HERE, KNOWN}]
    with contextlib.suppress(DatabaseError), transaction.atomic():  # on a full disk nothing is written
        WrongTries.objects.filter(counted__in=here).delete()


def forget_name(name: str) -> None:
    """An account that is erased is not counted any more."""
    WrongTries.objects.filter(counted=_hash("account", name)).delete()


def forget_old(*, at: datetime) -> int:
    """Delete what has all its places back; how many rows."""
    longest = max(room.places * room.rest for room in (ACCOUNT_HERE, ACCOUNT, NETWORK, KNOWN))
    return WrongTries.objects.filter(at__lt=at - longest).delete()[0]


def remember_browser(request: HttpRequest, response: HttpResponse, *, name: str) -> None:
    """From now on this browser is known for this account. The cookie holds a random number and hashes."""
    number, accounts = _browser(request)
    number = number or secrets.token_urlsafe(12)
    mine = _account_mark(number, name)
    kept = [mine, *(one for one in accounts if one != mine)][:MOST_ACCOUNTS]
    response.set_cookie(
        COOKIE,
        signing.dumps([number, *kept], salt=SALT),
        max_age=int(COOKIE_KEPT.total_seconds()),
        httponly=True,
        secure=request.is_secure(),
        samesite="Lax",
    )


def network_of(address: str | None) -> str:
    """An IPv4 address as it is, an IPv6 address by its /64; one written as IPv6 that is IPv4 is IPv4."""
    if address is None:
        return ""
    found = ipaddress.ip_address(address)
    if isinstance(found, ipaddress.IPv6Address):
        if found.ipv4_mapped is not None:
            return str(found.ipv4_mapped)
        return str(ipaddress.IPv6Network((found, IPV6_NETWORK), strict=False))
    return str(found)


def _counted(request: HttpRequest, *, name: str) -> Sequence[Counted]:
    number, accounts = _browser(request)
    if number and _account_mark(number, name) in accounts:
        return [(_hash("browser", number, name), KNOWN)]
    network = network_of(visitor_address(request))
    return [
        (_hash("account", name), ACCOUNT),
        (_hash("here", name, network), ACCOUNT_HERE),
        (_hash("network", network), NETWORK),
    ]


def _browser(request: HttpRequest) -> tuple[str, list[str]]:
    """This browser's number and the marks of the accounts that it signed in; nothing for a stranger's."""
    try:
        number, *accounts = signing.loads(request.COOKIES.get(COOKIE, ""), salt=SALT, max_age=COOKIE_KEPT)
    except (signing.BadSignature, ValueError, TypeError):
        return "", []
    return str(number), [str(one) for one in accounts]


def _account_mark(number: str, name: str) -> str:
    return _hash("mark", number, name)[:16]


def _hash(*words: str) -> str:
    return salted_hmac(SALT, "\x1f".join(words), algorithm="sha256").hexdigest()


def _left(row: WrongTries, room: Room, *, at: datetime) -> float:
    """Places still taken at `at`."""
    return max(0.0, row.used - max(timedelta(), at - row.at) / room.rest)


def _wait(row: WrongTries, room: Room, *, at: datetime) -> timedelta:
    over = _left(row, room, at=at) - (room.places - 1)
    return timedelta(seconds=math.ceil(over * room.rest.total_seconds())) if over > 0 else timedelta()
