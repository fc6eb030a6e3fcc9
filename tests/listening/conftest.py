"""Small seeded takes, made once for the whole session."""

import shutil

import pytest

from tests.listening.simulator.sounding import SOUND_FONT


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Tests that need the sound font are skipped, by name, where Debian's is not installed."""
    if SOUND_FONT.exists() and shutil.which("fluidsynth"):
        return
    for item in items:
        if item.get_closest_marker("sound"):
            item.add_marker(pytest.mark.skip(reason="needs Debian's fluidsynth and fluid-soundfont-gm"))
