"""What importing costs: a web worker's start and a student's page must not pay for music21 or verovio."""

import subprocess
import sys

import pytest

LIGHT = (
    "counting",
    "diagrams",
    "errors",
    "fingering_tables",
    "fingerings",
    "fitting",
    "instruments",
    "key_pictures",
    "keyboard",
    "keys",
    "midi_out",
    "musicxml_out",
    "notation",
    "part",
    "patterns",
    "pitch",
    "playback",
    "reading",
    "score",
    "spelling",
    "voice",
    "watching",
)


def loaded_after(*modules):
    imports = "; ".join(f"import exercises.music.{module}" for module in modules)
    code = f"import sys; {imports}; print(*sorted(name.partition('.')[0] for name in sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(done.stdout.split())


def test_light_modules_need_the_standard_library_alone():
    loaded = loaded_after(*LIGHT)
    assert loaded & {"music21", "verovio", "lxml", "numpy", "django"} == set()


@pytest.mark.parametrize("module", ["uploads", "musicxml_in", "incoming"])
def test_reading_musicxml_needs_no_music21(module):
    assert loaded_after(module) & {"music21", "verovio", "django"} == set()


def test_stored_drawing_is_shown_without_the_engraver():
    assert loaded_after("engraving") & {"music21", "verovio", "lxml", "django"} == set()


def test_engraving_needs_no_music21():
    loaded = loaded_after("engraver", "engraved_page")
    assert "verovio" in loaded
    assert loaded & {"music21", "django"} == set()


@pytest.mark.parametrize("module", ["abc_in", "midi_in"])
def test_readers_of_abc_and_midi_are_where_music21_is(module):
    loaded = loaded_after(module)
    assert "music21" in loaded
    assert loaded & {"verovio", "django"} == set()
