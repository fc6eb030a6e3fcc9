"""From received to ready: the real engine in its own process, and what happens when it fails."""

import errno
import json
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.storage import storages
from django.utils.timezone import now
from django_tasks_db.models import DBTaskResult

from submissions.models import Hearing, Take
from submissions.takes import engines, tasks
from submissions.takes.services import preparation
from submissions.takes.services.preparation import Ended
from submissions.takes.words import GIVEN_UP
from tests.submissions.takes import sounds

pytestmark = pytest.mark.django_db


@pytest.fixture
def content(tmp_path) -> bytes:
    room = sounds.noise(seconds=3, level=0.002)
    sound = sounds.with_marker(sounds.line(seconds=3) + room, at=0.25)
    return sounds.webm(tmp_path / "phone.webm", sound).read_bytes()


def run(take: Take) -> Ended:
    return preparation.prepare(take_pk=take.pk, clock=now, queue=tasks.queue_hearing_of).ended


def stored(name: str) -> bytes:
    with storages["takes"].open(name, "rb") as file:
        return file.read()


def files() -> list[str]:
    base = Path(storages["takes"].location)
    return sorted(str(path.relative_to(base)) for path in base.rglob("*") if path.is_file())


def test_a_take_becomes_ready_to_play(phone, assignment, content):
    take = phone.send(assignment, content, lead_seconds=2.0)

    assert run(take) == Ended.READY

    take.refresh_from_db()
    assert (take.state, take.served_type, take.findings) == (Take.State.READY, "audio/webm", [])
    assert take.seconds == pytest.approx(3.0, abs=0.05)
    assert take.beat_one_seconds == pytest.approx(2.25, abs=0.001)
    assert 0 < len(take.peaks) <= 600
    assert files() == sorted([take.original, take.served])
    assert storages["takes"].size(take.served) == take.served_bytes
    assert stored(take.original) == content
    state = phone.state(str(take.pk))
    assert (state["state"], state["words"], state["sound"]) == ("ready", "ready", f"/takes/{take.pk}/sound")
    heard = b"".join(phone.client.get(state["sound"]).streaming_content)
    assert heard == stored(take.served)


def test_nothing_is_left_in_the_work_folder(phone, assignment, content):
    run(phone.send(assignment, content))

    assert list(Path(settings.WORK_DIR).iterdir()) == []


def test_a_file_from_elsewhere_has_no_marker(phone, assignment, tmp_path):
    content = sounds.m4a(tmp_path / "memo.m4a", sounds.line()).read_bytes()
    take = phone.send(assignment, content, origin="file")

    run(take)

    take.refresh_from_db()
    assert (take.state, take.beat_one_seconds) == (Take.State.READY, None)


def test_a_ready_take_of_two_lines_waits_for_the_listener_once(phone, assignment, content):
    take = phone.send(assignment, content, lines=["A", "B"])
    DBTaskResult.objects.all().delete()

    run(take)

    row = Hearing.objects.get()
    assert (row.take, row.state) == (take, "queued")
    queued = DBTaskResult.objects.filter(task_path="submissions.takes.tasks.hear_take")
    assert [result.args_kwargs["args"] for result in queued] == [[row.pk]]


def test_a_text_named_m4a_is_refused_with_a_sentence_and_kept(phone, assignment):
    take = phone.send(assignment, b"I could not record because my sister was asleep. " * 20, origin="file")

    assert run(take) == Ended.REFUSED

    state = phone.state(str(take.pk))
    assert (state["state"], state["words"]) == ("refused", "cannot be played")
    assert state["says"] == (
        "This file is not a recording that can be read; send an m4a, mp3, wav, webm, ogg, flac or mp4 file."
    )
    # The receipt stands: the phone may let go, the school keeps what was sent.
    assert state["sha256"] == take.declared_sha256
    take.refresh_from_db()
    assert files() == [take.original]
    assert not Hearing.objects.exists()


def test_a_silent_take_is_kept_and_told(phone, assignment, tmp_path):
    content = sounds.webm(tmp_path / "phone.webm", sounds.silence(seconds=2)).read_bytes()
    take = phone.send(assignment, content)

    assert run(take) == Ended.READY

    assert phone.state(str(take.pk))["findings"] == [
        {
            "code": "silent",
            "says": "Nothing can be heard in this recording; check the microphone and record it again.",
        }
    ]


def test_longer_than_the_school_allows(phone, assignment, content, settings):
    settings.TAKE_MAX_SECONDS = 2
    take = phone.send(assignment, content)

    assert run(take) == Ended.REFUSED
    take.refresh_from_db()
    assert take.reason.startswith("This recording is longer than")


def test_a_message_that_comes_twice_is_harmless(phone, assignment, content):
    take = phone.send(assignment, content)
    run(take)
    before = files()

    assert run(take) == Ended.NOT_OURS
    assert files() == before


def test_an_engine_that_hangs_is_ended_and_tried_again(phone, assignment, content, monkeypatch):
    take = phone.send(assignment, content)
    DBTaskResult.objects.all().delete()
    limits = engines.EngineLimits(wall_seconds=0, processor_seconds=10, megabytes=1500)
    monkeypatch.setattr(preparation, "LIMITS", limits)

    tasks.prepare_take.call(str(take.pk))

    take.refresh_from_db()
    assert (take.state, take.tries) == (Take.State.RECEIVED, 1)
    waiting = DBTaskResult.objects.get()
    assert timedelta(seconds=10) < waiting.run_after - now() < timedelta(seconds=16)


def test_an_engine_without_memory_fails_three_times_and_says_so_plainly(
    phone, assignment, content, monkeypatch
):
    take = phone.send(assignment, content)
    limits = engines.EngineLimits(wall_seconds=20, processor_seconds=10, megabytes=20)
    monkeypatch.setattr(preparation, "LIMITS", limits)

    assert [run(take) for _ in range(3)] == [Ended.AGAIN, Ended.AGAIN, Ended.GIVEN_UP]

    state = phone.state(str(take.pk))
    assert (state["state"], state["says"]) == ("refused", GIVEN_UP)
    take.refresh_from_db()
    assert files() == [take.original]


def test_a_full_disk_waits_and_does_not_count_as_a_try(phone, assignment, content, monkeypatch):
    take = phone.send(assignment, content)

    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(type(storages["takes"]), "save", full)
        assert run(take) == Ended.AGAIN
    take.refresh_from_db()
    assert (take.state, take.tries) == (Take.State.RECEIVED, 0)

    assert run(take) == Ended.READY
    take.refresh_from_db()
    assert files() == sorted([take.original, take.served])


def test_a_lost_lease_is_swept_and_the_take_prepared(phone, assignment, content):
    take = phone.send(assignment, content)
    Take.objects.filter(pk=take.pk).update(
        state=Take.State.PREPARING, tries=1, lease_until=now() - timedelta(seconds=1)
    )
    DBTaskResult.objects.all().delete()

    assert tasks.sweep(at=now()) == 1
    assert tasks.sweep(at=now()) == 0

    assert DBTaskResult.objects.get().args_kwargs["args"] == [str(take.pk)]
    assert run(take) == Ended.READY


def test_a_take_whose_message_was_lost_is_swept(phone, assignment, content):
    """A worker was killed between taking the message and taking the take."""
    take = phone.send(assignment, content)
    DBTaskResult.objects.all().delete()

    assert tasks.sweep(at=now()) == 0
    assert tasks.sweep(at=now() + timedelta(minutes=11)) == 1
    assert DBTaskResult.objects.get().args_kwargs["args"] == [str(take.pk)]
    assert run(take) == Ended.READY


def test_the_engine_is_told_no_secret(monkeypatch):
    monkeypatch.setenv("SECRET_KEY", "hush")
    monkeypatch.setenv("DATABASE_URL", "postgresql://hush")

    told = engines.run(
        "tests.submissions.takes.engine_probe",
        limits=engines.EngineLimits(wall_seconds=20, processor_seconds=10, megabytes=1500),
    )

    assert "hush" not in json.dumps(told)
    assert told["OPENBLAS_NUM_THREADS"] == "1"


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["crash"], "It was ended by signal 11."),
        (["complain"], "RuntimeError: the tape is torn"),
        (["babble"], "It printed no answer."),
        (["list"], "It printed no answer."),
    ],
)
def test_how_an_engine_ended_is_told(arguments, says):
    with pytest.raises(engines.EngineFailed) as failed:
        engines.run(
            "tests.submissions.takes.engine_probe",
            *arguments,
            limits=engines.EngineLimits(wall_seconds=20, processor_seconds=10, megabytes=1500),
        )
    assert str(failed.value) == says


def test_an_engine_that_names_its_inputs_fault_has_answered():
    answer = engines.run(
        "tests.submissions.takes.engine_probe",
        "error",
        limits=engines.EngineLimits(wall_seconds=20, processor_seconds=10, megabytes=1500),
    )
    assert answer == {"error": "no sound"}
