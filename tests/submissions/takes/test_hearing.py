"""The listener is asked about a student's own part, in its own process; failing, it costs nothing."""

from dataclasses import replace
from datetime import timedelta
from io import StringIO

import numpy as np
import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.core.management import CommandError, call_command
from django.utils.timezone import now
from django_tasks_db.models import DBTaskResult

from exercises.models import FingeringChoice
from exercises.music.fingering_tables import rows_of
from exercises.music.instruments import INSTRUMENTS, Family
from exercises.music.notation import parse_notation
from exercises.music.pitch import Interval
from exercises.music.score import FOUR_FOUR, line_to_json
from submissions.listening import ENGINE_VERSION
from submissions.listening.evidence import Evidence
from submissions.listening.lines import by_line
from submissions.listening.score import Score
from submissions.models import Hearing, Take
from submissions.takes import engines, scores, tasks
from submissions.takes.files import random_name
from submissions.takes.services import hearing
from submissions.takes.services.preparation import Ended
from tests import factories
from tests.submissions.grading.evidence import make_hearing
from tests.submissions.takes import sounds

pytestmark = pytest.mark.django_db


@pytest.fixture
def make_take(assignment, seat):
    def make(*lines: str, sound: bytes = b"", seat=seat) -> Take:
        name = random_name()
        storages["takes"].save(name, ContentFile(sound))
        return Take.objects.create(
            assignment=assignment,
            seat=seat,
            lines=list(lines),
            state=Take.State.READY,
            declared_at=now(),
            declared_bytes=1,
            declared_sha256="0" * 64,
            served=name,
            served_type="audio/flac",
            served_bytes=len(sound),
        )

    return make


def ask(take: Take) -> Hearing | None:
    return hearing.ask_for_hearing(take=take, at=now(), queue=lambda _row: None)


def hear(row: Hearing) -> Ended:
    return hearing.hear(hearing_pk=row.pk, clock=now).ended


def played(notes: list[tuple[int, float]], tmp_path) -> bytes:
    """Notes (MIDI, seconds) one after the other, after half a second of room."""
    parts = [sounds.noise(seconds=0.5, level=0.001)]
    for midi, seconds in notes:
        t = np.arange(round(seconds * sounds.RATE)) / sounds.RATE
        hertz = 440 * 2 ** ((midi - 69) / 12)
        swell = np.minimum(1, np.minimum(t / 0.02, (t[-1] - t) / 0.06)).clip(0)
        tone = sum(np.sin(2 * np.pi * hertz * k * t) / k for k in (1, 2, 3, 4, 5))
        parts.append((0.2 * swell * tone).astype(np.float32))
    parts.append(sounds.noise(seconds=0.5, level=0.001))
    return sounds.wav(tmp_path / "played.wav", np.concatenate(parts)).read_bytes()


def as_asked(take: Take, line: str) -> list[tuple[int, float]]:
    asked = next(row for row in scores.score_of(take=take).lines if row.label == line)
    return [(note["midi"], note["beats"] * 60 / asked.tempo_bpm) for note in asked.notes]


# What is asked.


def test_the_score_is_the_students_part_as_it_sounds(make_take):
    """Concert B flat, C, D, B flat in halves: a clarinet reads C, D, E, C and sounds the concert notes."""
    asked = scores.score_of(take=make_take("A")).to_json()

    classes = [note["midi"] % 12 for note in asked["notes"]]
    assert classes == [10, 0, 2, 10]
    assert [note["start_beat"] for note in asked["notes"]] == [0, 2, 4, 6]
    assert {note["beats"] for note in asked["notes"]} == {2}
    assert [note["written"]["letter"] for note in asked["notes"]] == ["C", "D", "E", "C"]
    assert [note["written"]["bar"] for note in asked["notes"]] == [1, 1, 2, 2]
    assert (asked["instrument"], asked["tempo_bpm"], asked["beats_per_bar"], asked["fifths"]) == (
        "clarinet", 72, 4, 0,
    )  # fmt: skip
    assert [len(other["notes"]) for other in asked["other_lines"]] == [8]


def test_the_assignments_own_tempo_is_asked(make_take, assignment):
    assignment.tempos = {"A": 60}
    assignment.save(update_fields=["tempos"])

    assert scores.score_of(take=make_take("A")).to_json()["tempo_bpm"] == 60


def test_the_tempo_that_the_student_had_counted_off_is_asked(make_take):
    take = make_take("A")
    take.tempos = {"A": 66}

    assert scores.score_of(take=take).to_json()["tempo_bpm"] == 66


def test_a_take_of_both_lines_is_asked_as_one_piece_with_a_bar_between(make_take):
    asked = scores.score_of(take=make_take("A", "B")).to_json()

    assert [note["start_beat"] for note in asked["notes"]] == [0, 2, 4, 6, *range(12, 20)]
    assert "other_lines" not in asked


def test_changes_with_an_alternate_on_the_students_page_are_measured(make_take, assignment, section):
    """Concert A, A flat, A, B flat: an alto saxophone goes from F sharp to F and back, where its page shows
    the chromatic F sharp (common practice); a fingering nobody confirmed is on no student's page."""
    row = assignment.exercise.lines.get(label="A")
    written = parse_notation("A3:1 Ab A Bb", label="A", metre=FOUR_FOUR, fifths=-2)
    row.score = line_to_json(written)
    row.save(update_fields=["score"])
    sax = factories.make_seat(section=section, instrument="alto_sax")

    assert scores.score_of(take=make_take("A", seat=sax)).to_json()["alternates"] == []

    for rows in rows_of("alto_sax").values():
        for shown in rows:
            FingeringChoice.objects.create(
                band=assignment.band, instrument="alto_sax", row_id=shown.id, confirmed_at=now()
            )
    take = Take.objects.get(pk=make_take("A", seat=sax).pk)
    assert scores.score_of(take=take).to_json()["alternates"] == [1, 2, 3]


def test_each_lines_evidence_is_cut_out_of_the_piece(make_take):
    take = make_take("A", "B")
    evidence = {
        "notes": [{"verdict": "as_written", "onset_seconds": float(n)} for n in range(12)],
        "extra": [{"onset_seconds": s, "midi": 60} for s in (0.5, 3.4, 3.6, 11.5)],
        "tempo_bpm": 72,
    }

    score = Score.from_json(scores.score_of(take=take).to_json())
    heard = by_line(Evidence.from_json(evidence), score)
    line_a, line_b = heard["A"].to_json(), heard["B"].to_json()

    assert [note["onset_seconds"] for note in line_a["notes"]] == [0, 1, 2, 3]
    assert [note["onset_seconds"] for note in line_b["notes"]] == [4, 5, 6, 7, 8, 9, 10, 11]
    assert [note["onset_seconds"] for note in line_a["extra"]] == [0.5, 3.4]
    assert [note["onset_seconds"] for note in line_b["extra"]] == [3.6, 11.5]
    # A note a second: half notes in line A, quarters in line B.
    assert (line_a["tempo_bpm"], line_b["tempo_bpm"]) == (120, 60)


def test_lines_at_two_tempos_are_asked_on_one_clock(make_take):
    """Line B goes four beats while line A goes three, after a bar of rest of line A's."""
    take = make_take("A", "B")
    take.tempos = {"A": 60, "B": 80}

    asked = scores.score_of(take=take).to_json()

    assert asked["tempo_bpm"] == 60
    assert [note["start_beat"] for note in asked["notes"]] == [
        0, 2, 4, 6, *(12 + 0.75 * number for number in range(8)),
    ]  # fmt: skip
    assert {note["beats"] for note in asked["notes"][4:]} == {0.75}


@pytest.mark.parametrize(
    ("instrument", "chromatic"),
    [("clarinet", -2), ("bass_clarinet", -14), ("alto_sax", -9), ("bari_sax", -21), ("horn", -7),
     ("baritone_tc", -14), ("baritone_bc", 0), ("tuba", 0), ("bells", 24)],
)  # fmt: skip
def test_transpositions_of_the_band(make_take, section, instrument, chromatic):
    """Standard transpositions, as in music21 and abjad."""
    take = make_take("A", seat=factories.make_seat(section=section, instrument=instrument))
    score = scores.score_of(take=take).to_json()
    assert score["transposition"] == chromatic
    assert {note.midi - note.written.midi for note in Score.from_json(score).notes} == {chromatic}


@pytest.mark.parametrize(
    ("added", "told"),
    [
        ({"id": "alto_clarinet", "to_sounding": Interval(-5, -9)}, (-9, False)),
        ({"id": "vibes", "family": Family.PERCUSSION, "to_sounding": Interval(0, 0)}, (0, True)),
    ],
    ids=["a name that holds another's", "bars by a name of their own"],
)
def test_the_table_of_instruments_alone_tells_the_listener_how_one_sounds(added, told):
    line = scores.AskedLine("A", 72, 4.0, 0, ({"midi": 60, "start_beat": 0.0, "beats": 4.0},), 4.0)
    new = replace(INSTRUMENTS["clarinet"], **added)

    score = Score.from_json(scores.Asked(new, (line,)).to_json())

    assert (score.transposition, score.struck) == told


# The real listener.


def test_what_was_played_as_written_is_heard_so(make_take, tmp_path):
    take = make_take("A")
    storages["takes"].delete(take.served)
    storages["takes"].save(take.served, ContentFile(played(as_asked(take, "A"), tmp_path)))
    row = ask(take)

    assert hear(row) == Ended.READY

    row.refresh_from_db()
    assert (row.state, row.engine_version, row.reason) == (Hearing.State.DONE, ENGINE_VERSION, "")
    assert [note["verdict"] for note in row.evidence["A"]["notes"]] == ["as_written"] * 4
    assert row.finished_at is not None
    assert row.lease_until is None


def test_a_line_without_notes_is_left_out_and_the_other_heard(make_take, tmp_path):
    take = make_take("A", "C")
    storages["takes"].delete(take.served)
    storages["takes"].save(take.served, ContentFile(played(as_asked(take, "A"), tmp_path)))
    row = ask(take)

    assert hear(row) == Ended.READY

    lines = hearing.hearings_of([take])[take.pk]
    assert (lines["A"].state, lines["A"].reason) == (Hearing.State.DONE, "")
    assert [note.verdict for note in lines["A"].evidence.notes] == ["as_written"] * 4
    assert (lines["C"].state, lines["C"].reason) == (
        Hearing.State.FAILED, "Line C has no notes to listen for.",
    )  # fmt: skip


def test_evidence_of_a_form_from_elsewhere_is_told_and_costs_nothing(make_take):
    take = make_take("A")
    make_hearing(take=take, line="A", evidence={"form": 99, "notes": []})

    (line,) = hearing.hearings_of([take])[take.pk].values()

    assert (line.state, line.evidence) == (Hearing.State.FAILED, None)
    assert "manage.py hear --stale" in line.reason


def test_both_lines_of_one_take_are_heard_each_for_itself(make_take, tmp_path):
    take = make_take("A", "B")
    notes = [*as_asked(take, "A"), *as_asked(take, "B")]
    storages["takes"].delete(take.served)
    storages["takes"].save(take.served, ContentFile(played(notes, tmp_path)))
    row = ask(take)

    assert hear(row) == Ended.READY
    row.refresh_from_db()
    heard = [row.evidence[line] for line in ("A", "B")]
    assert [len(own["notes"]) for own in heard] == [4, 8]
    assert {note["verdict"] for own in heard for note in own["notes"]} == {"as_written"}


def test_a_file_the_listener_cannot_open_fails_with_its_reason_at_once(make_take):
    row = ask(make_take("A", sound=b"not a recording at all"))

    assert hear(row) == Ended.GIVEN_UP

    row.refresh_from_db()
    assert (row.state, row.evidence) == (Hearing.State.FAILED, None)
    assert row.reason
    assert row.take.state == Take.State.READY


# Failing costs nothing.


def test_a_crash_is_tried_three_times_and_told(make_take, monkeypatch):
    row = ask(make_take("A"))
    monkeypatch.setattr(
        hearing, "LIMITS", engines.EngineLimits(wall_seconds=20, processor_seconds=10, megabytes=20)
    )

    assert [hear(row) for _ in range(3)] == [Ended.AGAIN, Ended.AGAIN, Ended.GIVEN_UP]

    row.refresh_from_db()
    assert row.state == Hearing.State.FAILED
    assert row.reason.startswith(
        "The listener could not hear this take; the recording itself is fine to play and mark."
    )


def test_a_failed_hearing_is_queued_again_by_its_task(make_take, monkeypatch):
    row = ask(make_take("A"))
    monkeypatch.setattr(
        hearing, "LIMITS", engines.EngineLimits(wall_seconds=20, processor_seconds=10, megabytes=20)
    )

    assert tasks.hear_take.call(row.pk) == "will be tried again"

    assert DBTaskResult.objects.get().args_kwargs["args"] == [row.pk]


def test_a_recording_deleted_meanwhile(make_take):
    take = make_take("A")
    row = ask(take)
    Take.objects.filter(pk=take.pk).update(state=Take.State.DELETED)

    assert hear(row) == Ended.GIVEN_UP
    row.refresh_from_db()
    assert row.reason == "The recording is not there any more."


def test_a_part_without_pitches(make_take, section):
    drummer = factories.make_seat(section=section, instrument="snare")
    row = ask(make_take("A", seat=drummer))

    assert hear(row) == Ended.GIVEN_UP
    row.refresh_from_db()
    assert row.reason == "Line A has no notes to listen for."


def test_a_lost_hearing_is_swept(make_take):
    row = ask(make_take("A"))
    Hearing.objects.filter(pk=row.pk).update(
        state=Hearing.State.RUNNING, tries=1, lease_until=now() - timedelta(seconds=1)
    )

    assert tasks.sweep(at=now()) == 1

    row.refresh_from_db()
    assert row.state == Hearing.State.QUEUED
    assert DBTaskResult.objects.get().task_path == "submissions.takes.tasks.hear_take"


# When the listener learns more.


def test_asking_twice_asks_once(make_take):
    take = make_take("A", "B")

    assert ask(take) is not None
    assert ask(take) is None


def test_a_new_version_hears_again_and_the_directors_ear_goes_along(make_take):
    take = make_take("A")
    old = Hearing.objects.create(
        take=take,
        engine_version="0.1",
        state=Hearing.State.DONE,
        evidence={"A": {"notes": []}},
        overruled={"A": {"2": "as_written"}},
        queued_at=now() - timedelta(days=9),
    )
    told = StringIO()

    call_command("hear", stale=True, stdout=told)
    call_command("hear", stale=True, stdout=told)

    assert told.getvalue() == (
        f"1 line is queued for version {ENGINE_VERSION} of the listener.\n"
        f"0 lines are queued for version {ENGINE_VERSION} of the listener.\n"
    )
    new = Hearing.objects.get(engine_version=ENGINE_VERSION)
    assert (new.state, new.overruled) == (Hearing.State.QUEUED, {"A": {"2": "as_written"}})
    old.refresh_from_db()
    assert old.evidence == {"A": {"notes": []}}
    # Until the new one is done the desk shows the old.
    assert hearing.hearings_of([take])[take.pk]["A"].hearing == old
    Hearing.objects.filter(pk=new.pk).update(state=Hearing.State.DONE, evidence={"A": {}})
    assert hearing.hearings_of([take])[take.pk]["A"].hearing == new


def test_takes_that_cannot_be_played_are_not_heard(make_take):
    Take.objects.filter(pk=make_take("A").pk).update(state=Take.State.DELETED)

    assert tasks.hear_stale(at=now()) == 0


def test_the_command_wants_to_know_which_takes():
    with pytest.raises(CommandError, match="Say which takes to hear"):
        call_command("hear")


@pytest.mark.parametrize("takes", [1, 30])
def test_hearings_of_many_takes_cost_one_query(make_take, django_assert_num_queries, takes):
    rows = [make_take("A", "B") for _ in range(takes)]
    for row in rows:
        ask(row)

    with django_assert_num_queries(1):
        found = hearing.hearings_of(rows)
    assert {len(lines) for lines in found.values()} == {2}
