"""The week page with none, one and all of the lines about the school's computer."""

import os
from datetime import timedelta
from pathlib import Path

import pytest
from django.utils.timezone import now
from playwright.sync_api import expect

from bandroom import room
from submissions.models import Take
from submissions.upkeep import beats, clock
from tests import factories
from tests.browser.accessibility import assert_accessible
from tests.browser.conftest import PHONE, WIDE

pytestmark = pytest.mark.django_db(transaction=True)


def make_takes(assignment, seat, **fields) -> None:
    for _ in range(3):
        Take.objects.create(
            **{
                "assignment": assignment,
                "seat": seat,
                "lines": ["A"],
                "state": Take.State.READY,
                "declared_at": now(),
                "received_at": now(),
                "declared_bytes": 1,
                "declared_sha256": "0" * 64,
            }
            | fields
        )


@pytest.mark.parametrize("width", [PHONE, WIDE])
def test_none_one_and_several(page_at, width, band, section, seat, director, monkeypatch):
    ended = now() - timedelta(days=118)
    old = [
        factories.make_assignment(
            band=band,
            sections=[section],
            opens_at=ended - timedelta(days=5),
            due_at=ended - timedelta(days=1),
            closes_at=ended + timedelta(hours=number),
        )
        for number in range(5)
    ]
    beats.beat(name="here", at=now())
    page = page_at(width, director.user)
    lines = page.get_by_role("list", name="About the school’s computer").get_by_role("listitem")

    page.goto("/week/")
    expect(lines).to_have_count(0)

    for assignment in old:
        make_takes(assignment, seat)
    page.goto("/week/")
    expect(lines).to_have_count(1)
    expect(lines.first).to_contain_text("15 recordings will be deleted in the next seven days")
    expect(lines.first).to_contain_text("and more of 2 other assignments")
    look(page, f"one-{width}")

    make_takes(old[0], seat, state=Take.State.RECEIVED, received_at=now() - timedelta(minutes=20))
    clock.look(at=now() - timedelta(days=60))
    clock.look(at=now())
    monkeypatch.setattr(room, "is_short", lambda: True)
    page.goto("/week/")
    expect(lines).to_have_count(3)
    expect(lines.first).to_contain_text("The disk of the school’s computer is full.")
    expect(lines.nth(1)).to_contain_text("3 recordings cannot be played yet.")
    assert_accessible(page)
    look(page, f"several-{width}")

    beats.beat(name="here", at=now() - timedelta(minutes=5))
    page.goto("/week/")
    expect(lines.nth(1)).to_contain_text("has been silent since")


def look(page, name: str) -> None:
    """A picture to look at, where somebody wants one."""
    if folder := os.environ.get("PICTURES"):
        page.screenshot(path=Path(folder) / f"week-{name}.png", full_page=True)
