"""An evening's takes through the queue: prepared and heard by real workers on a real database.

So many takes of 40 seconds stand received, as after an upload. `manage.py work` with one worker, and then
with two on as many takes again, prepares each and hears it in a process of its own. Told are the seconds
until the last is heard and takes a minute. Run: python -m tests.bench.bench_queue
"""

import argparse
import os
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta

import numpy as np

from tests.bench.scratch import scratch_database
from tests.listening.simulator.coding import encode
from tests.listening.tones import RATE, line

TAKES, SECONDS, TEMPO = 150, 40, 80
DIFFERENT = 6
"""Recordings that are made; each is sent many times over."""
SCALE = ("Bb3", "C4", "D4", "Eb4", "F4", "G4")
POLL_SECONDS, GIVEN_UP_SECONDS = 0.5, 7200


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--takes", type=int, default=TAKES)
    options = parser.parse_args()
    with scratch_database():
        from django.conf import settings  # noqa: PLC0415 only after django.setup()

        engine = settings.DATABASES["default"]["ENGINE"].rpartition(".")[2]
        print(f"{options.takes} takes of {SECONDS} s, {engine}, {os.cpu_count()} cores")
        failed = [workers for workers in (1, 2) if not measure(workers=workers, takes=options.takes)]
    return 1 if failed else 0


def measure(*, workers: int, takes: int) -> bool:
    """Whether every take was heard."""
    from submissions.models import Hearing, Take  # noqa: PLC0415 only after django.setup()
    from tests.submissions.takes.processes import environment  # noqa: PLC0415 as above

    waiting = send(takes)
    began = time.perf_counter()
    worker = subprocess.Popen(
        [sys.executable, "manage.py", "work", "--workers", str(workers)],
        env=environment(),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        ended = (Hearing.State.DONE, Hearing.State.FAILED)
        mine = Hearing.objects.filter(take__in=waiting)
        while mine.filter(state__in=ended).count() < takes and worker.poll() is None:
            if time.perf_counter() - began > GIVEN_UP_SECONDS:
                break
            time.sleep(POLL_SECONDS)
        seconds = time.perf_counter() - began
    finally:
        worker.terminate()
        worker.wait()
    done = mine.filter(state=Hearing.State.DONE).count()
    again = mine.filter(tries__gt=1).count()
    notes = [
        note["verdict"] == "as_written"
        for row in mine
        for heard in (row.evidence or {}).values()
        for note in heard["notes"]
    ]
    right = 100 * sum(notes) / max(1, len(notes))
    ready = Take.objects.filter(pk__in=waiting, state=Take.State.READY).count()
    print(
        f"  {workers} worker{'s' if workers > 1 else ' '}  {seconds:6.0f} s, "
        f"{60 * takes / seconds:5.1f} takes a minute; {ready} made playable, {done} heard "
        f"({right:.1f} % of notes as written), {again} not at the first try"
    )
    return done == takes


def send(takes: int) -> list[object]:
    """Takes of one line that stand received, and wait to be prepared; their ids."""
    from django.core.files.base import ContentFile  # noqa: PLC0415 only after django.setup()
    from django.core.files.storage import storages  # noqa: PLC0415 as above

    from submissions.models import Take  # noqa: PLC0415 as above
    from submissions.takes import tasks  # noqa: PLC0415 as above
    from submissions.takes.files import random_name  # noqa: PLC0415 as above
    from tests import factories  # noqa: PLC0415 as above

    now = datetime.now(UTC)
    band = factories.make_band()
    section = factories.make_section(band=band)
    assignment = factories.make_assignment(
        band=band,
        sections=[section],
        opens_at=now - timedelta(days=1),
        due_at=now + timedelta(days=1),
        closes_at=now + timedelta(days=2),
    )
    pitches = write_line(assignment)
    sounds = [played(pitches, number) for number in range(DIFFERENT)]
    seat = factories.make_seat(section=section, instrument="flute")
    sent = []
    for number in range(takes):
        name = random_name()
        storages["takes"].save(name, ContentFile(sounds[number % DIFFERENT]))
        take = Take.objects.create(
            assignment=assignment,
            seat=seat,
            lines=["A"],
            state=Take.State.RECEIVED,
            declared_at=now,
            received_at=now,
            declared_bytes=len(sounds[number % DIFFERENT]),
            declared_sha256="0" * 64,
            original=name,
        )
        tasks.queue_preparing(take)
        sent.append(take.pk)
    return sent


def write_line(assignment) -> list[str]:
    """Line A becomes quarters that last SECONDS, less a second at each end; its pitches."""
    rng = np.random.default_rng(1)
    bars = int((SECONDS - 2) * TEMPO / 60 / 4)
    steps = np.clip(np.cumsum(rng.choice([-1, 1, 2, -2], 4 * bars)) + 2, 0, len(SCALE) - 1)
    pitches = [SCALE[step] for step in steps]
    row = assignment.exercise.lines.get(label="A")
    row.tempo_bpm = TEMPO
    row.score = {
        "label": "A",
        "metre": "4/4",
        "fifths": -2,
        "bars": [
            [{"pitch": pitch, "beats": "1"} for pitch in pitches[4 * bar : 4 * bar + 4]]
            for bar in range(bars)
        ],
    }
    row.save(update_fields=["tempo_bpm", "score"])
    return pitches


def played(pitches: list[str], number: int) -> bytes:
    """The line on a flute, an octave up, as a browser records it; each number a little out of tune."""
    from exercises.music.pitch import Pitch  # noqa: PLC0415 only after django.setup()

    pace = 60 / TEMPO
    notes = [
        (Pitch.parse(pitch).midi + 12 + 0.05 * number, 1 + pace * place, 0.9 * pace)
        for place, pitch in enumerate(pitches)
    ]
    return encode(line(notes, float(SECONDS)), "webm", rate=RATE)


if __name__ == "__main__":
    sys.exit(main())
