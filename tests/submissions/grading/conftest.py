"""A section of clarinets, an assignment that was due yesterday, and what they turned in."""

from datetime import datetime, timedelta

import pytest
from django.test import Client
from django.utils.timezone import now

from bandroom.people.models import Membership, Seat, Section, User
from submissions.models import Assignment, Criterion, Level, Posting, Take, TurnIn
from submissions.turn_ins import services as turn_ins
from tests import factories


def make_take(
    *, seat: Seat, assignment: Assignment, lines: tuple[str, ...] = ("A",), at: datetime, **fields: object
) -> Take:
    """A take that can be played: ten seconds, loud from the second to the ninth."""
    values: dict[str, object] = {
        "state": Take.State.READY,
        "seconds": 10.0,
        "peaks": [0] * 100 + [60] * 450 + [0] * 50,
        "served": "sound.webm",
        "served_type": "audio/webm",
    }
    return Take.objects.create(
        assignment=assignment,
        seat=seat,
        lines=list(lines),
        declared_at=at,
        declared_bytes=1000,
        declared_sha256="0" * 64,
        **(values | fields),
    )


def turn_in_both(*, seat: Seat, posting: Posting, at: datetime, **fields: object) -> TurnIn:
    """One take for each line, turned in at `at`."""
    takes = {
        line: make_take(seat=seat, assignment=posting.assignment, lines=(line,), at=at, **fields)
        for line in posting.assignment.lines
    }
    return turn_ins.turn_in(seat=seat, posting=posting, takes=takes, at=at)


def steps(assignment: Assignment) -> dict[Criterion, list[Level]]:
    return {c: list(c.levels.all()) for c in assignment.rubric.criteria.all()}


def sheet(turn_in: TurnIn, *, top: int = 4, **fields: str) -> dict[str, str]:
    """What a page's form posts: one level for every criterion of every line."""
    posted = {"attempt": str(turn_in.attempt), "worked": "", "next_step": "", "look_at": "", "do": "return"}
    for criterion, levels in steps(turn_in.assignment).items():
        for line in turn_in.assignment.lines:
            level = next(level for level in levels if level.value == top)
            posted[f"mark-{line}-{criterion.pk}"] = str(level.pk)
            posted[f"seen-{line}-{criterion.pk}"] = ""
    return posted | fields


@pytest.fixture
def assignment(section: Section) -> Assignment:
    """Opened four days ago, due yesterday, closes in three days."""
    return factories.make_assignment(
        band=section.band,
        sections=[section],
        opens_at=now() - timedelta(days=4),
        due_at=now() - timedelta(days=1),
        closes_at=now() + timedelta(days=3),
    )


@pytest.fixture
def posting(assignment: Assignment) -> Posting:
    return assignment.postings.select_related("assignment").get()


@pytest.fixture
def in_time() -> datetime:
    return now() - timedelta(days=2)


@pytest.fixture
def waiting(seat: Seat, posting: Posting, in_time: datetime) -> TurnIn:
    """Both lines turned in on time."""
    return turn_in_both(seat=seat, posting=posting, at=in_time)


@pytest.fixture
def desk(director: Membership, sign_in) -> Client:
    """The director's browser."""
    return sign_in(director.user)


@pytest.fixture
def other_adult(substitute: Membership) -> User:
    return substitute.user
