"""The disk that everything lies on is full: pages are read, people sign in, nothing more is stored."""

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from bandroom import room
from tests.disks import NoDisk, fill, small_disk

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def disk(tmp_path) -> Iterator[Path]:
    try:
        with small_disk(tmp_path / "disk", megabytes=32) as path:
            yield path
    except NoDisk as why:
        pytest.skip(f"no small disk: {why}")


def test_pages_are_read_and_people_sign_in_while_the_disk_is_full(disk):
    """Before there was a reserve each of these was a 500, signing in included."""
    ended = subprocess.run(
        [sys.executable, "-W", "ignore", "-m", "tests.bandroom.full_disk_probe"],
        cwd=ROOT,
        env=os.environ
        | {
            "DJANGO_SETTINGS_MODULE": "bandroom.settings.dev",
            "BANDROOM_VAR": str(disk),
            "DATABASE_URL": f"sqlite:///{disk}/db",
        },
        capture_output=True,
        text=True,
        check=False,
    )

    assert ended.stderr == ""
    assert json.loads(ended.stdout) == {
        "reserve before": True,
        "a page that reads": 200,
        "drawings kept": 0,
        "the week": 200,
        "the door": 200,
        "a wrong password": 422,
        "signing in": 302,
        "the week after it": 200,
        "is short": True,
        "reserve after": False,
        "without reserve": 507,
        "says": True,
    }


@pytest.fixture
def on_disk(disk, settings, monkeypatch) -> Path:
    settings.DISK_RESERVE_MB = 64
    monkeypatch.setattr(room, "folder", lambda: disk)
    return disk


def test_the_reserve_is_a_part_of_a_small_disk_and_comes_back_when_there_is_room(on_disk):
    reserve = on_disk / room.NAME
    room.set_aside()
    assert (reserve.stat().st_size, room.is_short()) == (2 * room.MEGABYTE, False)

    filler = fill(on_disk)
    room.make_room()
    assert (reserve.exists(), room.is_short()) == (False, True)
    room.set_aside()
    assert not reserve.exists()

    filler.unlink()
    room.set_aside()
    assert (reserve.exists(), room.is_short()) == (True, False)


def test_storing_stops_before_the_reserve_is_needed(on_disk):
    room.set_aside()
    filler = fill(on_disk)
    with filler.open("r+b") as file:
        file.truncate(filler.stat().st_size - room.MEGABYTE // 3)

    assert room.is_short()
    room.make_room()
    assert (on_disk / room.NAME).exists()


def test_nothing_is_reserved_where_nothing_is_asked_for(on_disk, settings):
    settings.DISK_RESERVE_MB = 0
    room.set_aside()

    assert (list(on_disk.iterdir()), room.is_short()) == ([], False)
