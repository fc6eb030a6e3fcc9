"""Parts of an exercise as rows in the database: one octave for both lines, choices, the cache of drawings."""

import importlib
import subprocess
import sys
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.cache import caches
from django.test import Client
from django.utils import timezone

from bandroom.people.models import Band, Section, User
from exercises.models import Exercise, ExerciseLine, PartChoice, PartPolicy, RangeChoice
from exercises.music.errors import MusicError
from exercises.parts import Layout, engraved_line, part_of
from tests import factories

pytestmark = pytest.mark.django_db
ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(autouse=True)
def _empty_cache() -> None:
    caches["engravings"].clear()


@pytest.fixture
def exercise(band: Band) -> Exercise:
    return factories.make_exercise(band=band)


def names(line: ExerciseLine, instrument: str) -> list[str]:
    return [note.pitch.name for note in part_of(line=line, instrument=instrument).line.notes if note.pitch]


def test_a_part_is_in_written_pitch_and_in_the_octave_of_the_instrument(exercise: Exercise) -> None:
    # Concert B flat, C, D, B flat. An alto sax reads a major sixth up (music21 and abjad agree), a tuba the
    # concert letters in its own octave: see the home octaves in tests/music.
    a = exercise.lines.get(label="A")
    assert names(a, "alto_sax") == ["G4", "A4", "B4", "G4"]
    assert names(a, "trumpet") == ["C4", "D4", "E4", "C4"]
    assert names(a, "tuba") == ["Bb1", "C2", "D2", "Bb1"]
    assert part_of(line=a, instrument="alto_sax").line.fifths == 1


def test_both_lines_lie_in_one_octave(band: Band) -> None:
    """Line B alone would suit the flute an octave lower; with line A it stays where A lies."""
    exercise = factories.make_exercise(band=band)
    b = exercise.lines.get(label="B")
    high = {"pitch": "F5", "beats": "4"}
    b.score = b.score | {"bars": [[high], [high]]}
    b.save(update_fields=["score"])
    a = exercise.lines.get(label="A")
    octaves = {part_of(line=line, instrument="flute").octaves for line in (a, b)}
    assert len(octaves) == 1


def test_the_directors_octave_is_taken(exercise: Exercise) -> None:
    PartChoice.objects.create(exercise=exercise, instrument="trumpet", octave=1)
    assert names(exercise.lines.get(label="A"), "trumpet") == ["C5", "D5", "E5", "C5"]


def test_notes_are_left_out_or_played_otherwise_as_the_director_chose(exercise: Exercise) -> None:
    PartChoice.objects.create(
        exercise=exercise, instrument="trumpet", left_out={"A": [2]}, instead={"A": {"1": "E4"}}
    )
    part = part_of(line=exercise.lines.get(label="A"), instrument="trumpet")
    assert [note.pitch and note.pitch.name for note in part.line.notes] == ["C4", "E4", None, "C4"]
    untouched = part_of(line=exercise.lines.get(label="B"), instrument="trumpet")
    assert all(note.pitch for note in untouched.line.notes)


def test_a_choice_about_a_note_that_is_gone_is_passed_over(exercise: Exercise) -> None:
    PartChoice.objects.create(
        exercise=exercise, instrument="trumpet", left_out={"A": [99]}, instead={"A": {"98": "E4"}}
    )
    assert names(exercise.lines.get(label="A"), "trumpet") == ["C4", "D4", "E4", "C4"]


def test_the_bands_own_range_gives_the_verdict(exercise: Exercise) -> None:
    line = exercise.lines.get(label="A")
    assert part_of(line=line, instrument="trumpet").verdict == "comfortable"
    RangeChoice.objects.create(
        band=exercise.band,
        instrument="trumpet",
        easy_low="C4",
        easy_high="C4",
        low="C4",
        high="D4",
        changed_at=timezone.now(),
    )
    line = ExerciseLine.objects.get(pk=line.pk)
    part = part_of(line=line, instrument="trumpet")
    assert part.verdict == "outside"
    assert [ref.index for ref in part.outside] == [2]


def test_an_unknown_instrument_is_refused(exercise: Exercise) -> None:
    with pytest.raises(MusicError, match="choose one from the list"):
        part_of(line=exercise.lines.get(label="A"), instrument="theremin")


def test_a_drawing_bears_the_prefix_of_its_page_and_is_drawn_once(
    exercise: Exercise, monkeypatch: pytest.MonkeyPatch
) -> None:
    line = exercise.lines.get(label="A")
    first = engraved_line(line=line, instrument="horn", layout=Layout.DESK, prefix="wide")

    def drawn_again(*args: object, **kwargs: object) -> None:
        raise AssertionError("drawn although it was stored")

    monkeypatch.setattr("exercises.parts.engrave", drawn_again)
    second = engraved_line(line=line, instrument="horn", layout=Layout.DESK, prefix="other")
    assert 'id="wide-n0"' in first.svg
    assert second.svg == first.svg.replace("wide-", "other-").replace('"wide"', '"other"')
    assert second.notes == first.notes
    assert (len(second.systems), len(first.bars)) == (1, 2)


def test_a_prefix_that_is_no_plain_name_is_refused(exercise: Exercise) -> None:
    with pytest.raises(MusicError, match="cannot begin an id"):
        engraved_line(
            line=exercise.lines.get(label="A"), instrument="horn", layout=Layout.DESK, prefix='x"><script>'
        )


def test_an_edit_a_choice_and_the_policy_each_give_a_new_drawing(exercise: Exercise) -> None:
    def drawing() -> str:
        line = ExerciseLine.objects.get(exercise=exercise, label="A")
        return engraved_line(line=line, instrument="clarinet", layout=Layout.PHONE, prefix="p").svg

    seen = [drawing()]
    PartChoice.objects.create(exercise=exercise, instrument="clarinet", octave=1)
    seen.append(drawing())
    line = exercise.lines.get(label="A")
    sharp = [[{"pitch": "F#4", "beats": "4"}], [{"pitch": "F4", "beats": "4"}]]
    line.score = line.score | {"bars": sharp}
    line.save(update_fields=["score"])
    seen.append(drawing())
    PartPolicy.objects.create(band=exercise.band, courtesy_signs=False)
    seen.append(drawing())
    assert len(set(seen)) == 4
    assert seen[2].count("E26A") > 0  # the parenthesis of a reminder sign (SMuFL accidentalParensLeft)
    assert seen[3].count("E26A") == 0


def test_rows_fetched_for_parts_cost_no_more_queries(
    exercise: Exercise, django_assert_num_queries: object
) -> None:
    with django_assert_num_queries(6):  # exercise, lines, choices, band, ranges, policy
        fetched = Exercise.objects.for_parts().get(pk=exercise.pk)
    with django_assert_num_queries(0):
        for line in fetched.lines.all():
            for instrument in ("flute", "horn", "tuba"):
                part_of(line=line, instrument=instrument)
                engraved_line(line=line, instrument=instrument, layout=Layout.DESK, prefix="a")


def test_one_line_alone_asks_once_for_what_goes_into_its_parts(
    exercise: Exercise, django_assert_num_queries: object
) -> None:
    line = ExerciseLine.objects.get(exercise=exercise, label="A")
    with django_assert_num_queries(6):
        part_of(line=line, instrument="flute")
    with django_assert_num_queries(0):
        part_of(line=line, instrument="tuba")


def test_a_stored_part_is_shown_without_the_engraver_or_the_score_library(tmp_path: Path) -> None:
    """In processes of their own: the first draws and stores, the second finds it in the file cache."""
    program = """
import os, sys
os.environ["DJANGO_SETTINGS_MODULE"] = "bandroom.settings.test"
import django
from django.conf import settings
settings.CACHES = settings.CACHES | {"engravings": {
    "BACKEND": "django.core.cache.backends.filebased.FileBasedCache",
    "LOCATION": sys.argv[1],
    "TIMEOUT": None,
}}
django.setup()
from django.core.handlers.wsgi import WSGIHandler
from django.urls import get_resolver
WSGIHandler()
get_resolver().url_patterns
heavy = {"music21", "verovio", "weasyprint", "numpy"}
print("start", sorted(heavy & set(sys.modules)))
from bandroom.people.models import Band
from exercises.models import Exercise, ExerciseLine
from exercises.parts import Layout, engraved_line
from tests.factories import half_note_line
band = Band(pk=1, name="B")
exercise = Exercise(pk=1, band=band)
line = ExerciseLine(exercise=exercise, label="A", score=half_note_line("A"))
exercise._prefetched_objects_cache = {"lines": [line], "part_choices": []}
band._prefetched_objects_cache = {"range_choices": []}
band._state.fields_cache["part_policy"] = None
engraved_line(line=line, instrument="horn", layout=Layout.DESK, prefix="a")
print("shown", sorted(heavy & set(sys.modules)))
"""
    outputs = [
        subprocess.run(
            [sys.executable, "-c", program, str(tmp_path)],
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=True,
        ).stdout.splitlines()
        for _ in range(2)
    ]
    assert outputs == [["start []", "shown ['verovio']"], ["start []", "shown []"]]


def test_no_page_of_a_student_reads_what_only_files_need(
    monkeypatch: pytest.MonkeyPatch, band: Band, section: Section, sign_in: Callable[[User], Client]
) -> None:
    """Where music21 and what imports it cannot be had, every page of a student still opens."""
    for missing in ("music21", "uploads", "abc_in", "midi_in", "musicxml_in"):
        name = missing if missing == "music21" else f"exercises.music.{missing}"
        monkeypatch.setitem(sys.modules, name, None)
    seat = factories.make_seat(section=section, instrument="trumpet")
    assignment = factories.make_assignment(
        band=band, sections=[section], opens_at=timezone.now() - timedelta(days=1)
    )
    student = sign_in(seat.student)
    own = f"/work/{assignment.pk}/"
    steps = [f"{own}steps/{step}/" for step in ("ready", "signs", "names", "fingers", "play")]
    for address in ("/work/", own, f"{own}record/A/", *steps):
        assert student.get(address).status_code == 200, address
    with pytest.raises(ImportError):
        importlib.import_module("exercises.music.uploads")


def test_a_cache_that_cannot_be_written_or_read_breaks_no_page(
    exercise: Exercise, settings, tmp_path: Path
) -> None:
    """A file stands where its folder should be; what is in the cache is no drawing."""
    line = exercise.lines.get(label="A")
    drawn = engraved_line(line=line, instrument="flute", layout=Layout.PHONE, prefix="one")
    nowhere = tmp_path / "file"
    nowhere.write_text("no folder")
    backend = "django.core.cache.backends.filebased.FileBasedCache"
    settings.CACHES = settings.CACHES | {"engravings": {"BACKEND": backend, "LOCATION": nowhere / "cache"}}

    assert engraved_line(line=line, instrument="flute", layout=Layout.PHONE, prefix="one") == drawn

    settings.CACHES = settings.CACHES | {"engravings": {"BACKEND": backend, "LOCATION": tmp_path / "cache"}}
    assert engraved_line(line=line, instrument="flute", layout=Layout.PHONE, prefix="one") == drawn
    (kept,) = (tmp_path / "cache").glob("*.djcache")
    kept.write_bytes(kept.read_bytes()[:40])
    assert engraved_line(line=line, instrument="flute", layout=Layout.PHONE, prefix="one") == drawn
