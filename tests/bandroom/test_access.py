"""Who may do what: every address, as seven kinds of visitor, with the exact answer for each.

The rule is one: a visitor is sent to sign in (or, where something would be changed, told to), a stranger gets
404, and what is left is the answer in the table. An address that is not in the table fails the test.
"""

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils.timezone import now

from bandroom.people.models import Membership, Role, User
from submissions.models import Booking, Hearing, Phrase, Slot, Stuck, Take
from submissions.turn_ins import services as turn_ins
from tests import factories
from tests.bandroom.doors import DOORS, VISITORS, Door

pytestmark = pytest.mark.django_db
SignIn = Callable[[User], Client]

SOUND = b"RIFF" + bytes(60)


@dataclass(frozen=True, slots=True)
class World:
    """One band with a week's work, and another band beside it."""

    visitors: dict[str, User | None]
    ids: dict[str, Any]


def all_addresses(resolver: URLResolver | None = None, space: str = "") -> dict[str, list[str]]:
    """Every address by its full name, with the names of what it takes, in order."""
    found: dict[str, list[str]] = {}
    for pattern in (resolver or get_resolver()).url_patterns:
        if isinstance(pattern, URLResolver):
            found |= all_addresses(pattern, pattern.namespace or space)
        elif isinstance(pattern, URLPattern):
            name = f"{space}:{pattern.name}" if space else str(pattern.name)
            found[name] = list(pattern.pattern.converters)
    return found


@pytest.fixture
def world() -> World:
    band, other = factories.make_band(), factories.make_band(name="Elsewhere Band")
    section = factories.make_section(band=band)
    seat, classmate = factories.make_seat(section=section), factories.make_seat(section=section)
    stranger = factories.make_seat(section=factories.make_section(band=other))
    director = factories.make_staff(band=band)
    substitute = factories.make_staff(band=band, role=Role.SUBSTITUTE)
    other_director = factories.make_staff(band=other)
    opens = now() - timedelta(days=1)
    assignment = factories.make_assignment(band=band, sections=[section], opens_at=opens)
    posting = assignment.postings.get()
    take = Take.objects.create(
        assignment=assignment,
        seat=seat,
        lines=["A"],
        state=Take.State.READY,
        declared_at=opens,
        declared_bytes=len(SOUND),
        declared_sha256="0" * 64,
        received_at=opens,
        served=storages["takes"].save("access/sound", ContentFile(SOUND)),
        served_type="audio/wav",
        served_bytes=len(SOUND),
        seconds=1.0,
    )
    turn_ins.turn_in(seat=seat, posting=posting, takes={"A": take}, at=now())
    Hearing.objects.create(take=take, engine_version="1", queued_at=opens)
    slot = Slot.objects.create(
        band=band, starts_at=now() + timedelta(days=1), ends_at=now() + timedelta(days=1, minutes=5), taken=1
    )
    slot.sections.add(section)
    booking = Booking.objects.create(
        slot=slot, seat=seat, assignment=assignment, booked_at=now(), changed_at=now()
    )
    phrase = Phrase.objects.create(band=band, kind=Phrase.Kind.WORKED, label="steady", text="Steady beat.")
    stuck = Stuck.objects.create(assignment=assignment, seat=seat, line="A", bar=1, at=now())
    member = Membership.objects.get(user=seat.student)
    return World(
        visitors={
            "nobody": None,
            "student": seat.student,
            "classmate": classmate.student,
            "other band's student": stranger.student,
            "substitute": substitute.user,
            "director": director.user,
            "other band's director": other_director.user,
        },
        ids={
            "assignment": assignment.pk,
            "exercise": assignment.exercise_id,
            "rubric": assignment.rubric_id,
            "section": section.pk,
            "seat": seat.pk,
            "member": member.pk,
            "staff": substitute.pk,
            "take": take.pk,
            "slot": slot.pk,
            "booking": booking.pk,
            "phrase": phrase.pk,
            "stuck": stuck.pk,
            "step": "ready",
            "instrument": "clarinet",
            "line": "A",
            "labels": "A",
            "language": "es",
            "midi": 60,
            "secret": "not-a-secret",
            "uid": "MQ",
            "token": "set-password",
            "unknown": uuid.uuid4(),
        },
    )


def test_every_address_has_its_line_in_the_table():
    assert {door.name for door in DOORS} == set(all_addresses())


@pytest.mark.parametrize("door", DOORS, ids=str)
def test_only_those_it_is_meant_for_come_through(door: Door, world: World, sign_in: SignIn):
    url = _address(door, world)
    # Strangers first: what the director changes must not hide what a stranger could do.
    order = sorted(VISITORS, key=lambda visitor: visitor in door.who)
    answers = {}
    for visitor in order:
        user = world.visitors[visitor]
        client = sign_in(user) if user else Client()
        response = getattr(client, door.method)(url)
        answers[visitor] = response.status_code
        if response.streaming:
            b"".join(response)  # a file is let go of once it was read
    assert answers == {visitor: door.expected(visitor) for visitor in VISITORS}


@pytest.mark.parametrize(
    "door",
    [door for door in DOORS if not any(d.name == door.name and d.method != door.method for d in DOORS)],
    ids=str,
)
def test_the_other_method_is_refused(door: Door, world: World, sign_in: SignIn):
    url = _address(door, world)
    for visitor in ("director", "student"):
        user = world.visitors[visitor]
        assert user is not None
        client = sign_in(user)
        assert (client.post(url) if door.method == "get" else client.get(url)).status_code == 405


def _address(door: Door, world: World) -> str:
    names = all_addresses()[door.name]
    return reverse(
        door.name, kwargs={n: world.ids[known] for n, known in zip(names, door.kwargs, strict=True)}
    )
