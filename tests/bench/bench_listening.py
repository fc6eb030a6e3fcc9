"""How well and how fast the listener hears: `python -m tests.bench.bench_listening`.

Accuracy is pooled over simulated beginners whose seeds were not used while the engine was tuned: tuning saw
seeds under FIRST_REPORT_SEED with Debian's FluidR3 sound font; the figures come from seeds above, and from
any further sound font given with --font. Where the recorded notes of real instruments have been fetched
(tests.listening.simulator.recordings), the same beginners are played from them, in good rooms and in the
worst; and a player's phrases, whose score was edited afterwards. Speed is from encoded bytes to JSON on one
core, beside librosa's pYIN on the same takes (pitch only).
"""

import argparse
import json
import os
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import librosa
import numpy as np

from submissions.listening.decode import decode
from submissions.listening.hear import hear_take
from submissions.listening.misreading import readings
from submissions.listening.score import Score
from tests.listening import scoring
from tests.listening.simulator import recordings
from tests.listening.simulator.coding import encode
from tests.listening.simulator.player import Tone
from tests.listening.simulator.sounding import render
from tests.listening.simulator.takes import make_take

FIRST_REPORT_SEED = 10_000
LEVELS = ("clean", "typical", "hard")
CAUSES = ("key_forgotten", "last_forgotten", "sign_not_carried", "sign_carried_over_barline")
SECONDS = (10, 30, 60)


def accuracy(*, takes: int, font: Path | None) -> None:
    """The table of accuracy over playing takes, pooled and by level."""
    pooled, by_level = scoring.Counts(), {level: scoring.Counts() for level in LEVELS}
    for take in _takes(takes, "playing", font):
        evidence = _hear(take)
        scoring.add(pooled, take, evidence)
        scoring.add(by_level[take.level], take, evidence)
    for what, figure in scoring.table(pooled):
        print(f"{what:<30} {figure}")
    for level, counts in by_level.items():
        print(f"not heard F1, {level:<16} {scoring.f1(counts.missing):.3f}")


def recorded(*, takes: int) -> None:
    """The same table from recorded notes, where they have been fetched."""
    try:
        for name in recordings.SHA512:
            recordings.recordings(name)
    except FileNotFoundError as error:
        print(f"not measured: {error}")
        return
    for what, kind, levels in (
        ("beginners, recorded notes", "recorded", LEVELS),
        ("the same in live rooms, coded low", "recorded", ("rough",)),
        ("phrases, score edited", "phrase", ("clean", "typical")),
        ("the same in live rooms, coded low", "phrase", ("rough",)),
    ):
        counts = scoring.Counts()
        for seed in range(FIRST_REPORT_SEED, FIRST_REPORT_SEED + takes):
            take = make_take(seed, kind=kind, level=levels[seed % len(levels)])
            scoring.add(counts, take, _hear(take))
        print(f"\n{what}")
        for row, figure in scoring.table(counts):
            print(f"{row:<30} {figure}")


def kinds(*, takes: int, font: Path | None) -> None:
    """Nobody plays, other parts, other lines, and causes of misreadings."""
    for kind in ("nobody", "speech", "clicks", "noise"):
        played = sum(
            note["onset_seconds"] is not None
            for take in _takes(takes, kind, font)
            for note in _hear(take)["notes"]
        )
        print(f"{kind:<30} {played} notes called played in {takes} takes")
    found = sum(
        _hear(take)["transposed_semitones"] == take.truth.transposed
        for take in _takes(takes, "transposed", font)
    )
    print(f"{'other part found':<30} {found} of {takes}")
    lines = sum(bool(_hear(take)["other_line"]) for take in _takes(takes, "other_line", font))
    print(f"{'other line noticed':<30} {lines} of {takes}")
    for kind in CAUSES:
        print(f"{'cause: ' + kind:<38} {_causes(kind, takes, font)}")
    false = sum(
        _hear(take)["misreading"] is not None for take in _takes(takes, "playing", font, spelled=True)
    )
    print(f"{'causes named for random slips':<38} {false} of {takes}")


def _causes(kind: str, takes: int, font: Path | None) -> str:
    """Right also where another cause reads this very line the same way."""
    tally = Counter()
    for take in _takes(takes, kind, font, spelled=True):
        if sum(note.verdict == "other_pitch" for note in take.truth.notes) < 2:
            continue
        said = _hear(take)["misreading"]
        sounding = {_family(r.cause.value): r.sounding for r in readings(Score.from_json(take.score))}
        named = _family(said["cause"]) if said else None
        same = named is not None and sounding.get(named) == sounding.get(_family(kind))
        tally[
            "right" if named == _family(kind) else "same notes" if same else "wrong" if said else "none"
        ] += 1
    return ", ".join(f"{count} {what}" for what, count in sorted(tally.items()))


def _family(cause: str) -> str:
    return "last_forgotten" if cause.startswith("last_") else cause


def _takes(count: int, kind: str, font: Path | None, *, spelled: bool = False):
    for seed in range(FIRST_REPORT_SEED, FIRST_REPORT_SEED + count):
        yield make_take(seed, kind=kind, level=LEVELS[seed % 3], font=font, spelled=spelled)


def _hear(take) -> dict:
    return hear_take(audio=take.audio, score=Score.from_json(take.score)).to_json()


def speed(*, seconds: int, repeats: int = 5, pyin: bool = True) -> None:
    """Seconds of sound per second of one core, and peak memory, in a process of their own."""
    code = (
        "import json, sys, time\n"
        "start = time.process_time()\n"
        "from submissions.listening.hear import hear_take\n"
        "from submissions.listening.score import Score\n"
        "imported = time.process_time() - start\n"
        "data = json.load(sys.stdin)\n"
        "audio, score = bytes.fromhex(data['audio']), Score.from_json(data['score'])\n"
        "times = []\n"
        "for _ in range(data['repeats']):\n"
        "    start = time.process_time()\n"
        "    json.dumps(hear_take(audio=audio, score=score).to_json())\n"
        "    times.append(time.process_time() - start)\n"
        # Not getrusage: what it says of a child starts from the parent's own peak.
        "status = open('/proc/self/status').read()\n"
        "peak = int(status.split('VmHWM:')[1].split()[0]) / 1000\n"
        "print(json.dumps([imported, times, peak]))\n"
    )
    audio, score = _long_take(seconds)
    asked = json.dumps({"audio": audio.hex(), "score": score, "repeats": repeats})
    done = subprocess.run(
        [sys.executable, "-c", code],
        input=asked,
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "OMP_NUM_THREADS": "1"},
    )
    imported, times, megabytes = json.loads(done.stdout)
    median = sorted(times)[len(times) // 2]
    print(
        f"{seconds} s: {seconds / median:.0f} x real time "
        f"(worst of {repeats}: {seconds / max(times):.0f} x), "
        f"peak {megabytes:.0f} MB, import {imported:.2f} s"
    )
    if pyin:
        print(f"{seconds} s: pYIN {seconds / _pyin_seconds(audio):.1f} x real time, pitch only")


def _pyin_seconds(audio: bytes) -> float:
    sound = decode(audio, rate=16_000)
    start = time.process_time()
    librosa.pyin(sound.samples, fmin=110, fmax=1800, sr=sound.rate, frame_length=1024, hop_length=160)
    return time.process_time() - start


def _long_take(seconds: int) -> tuple[bytes, dict]:
    """A clarinet line of quarters at 80 a minute that fills the time, as WebM."""
    rng, pace = np.random.default_rng(7), 0.75
    count = int((seconds - 1) / pace)
    midis = (58 + np.clip(np.cumsum(rng.choice([-2, -1, 1, 2], count)), -6, 8)).tolist()
    tones = [Tone(0.5 + pace * i, 0.5 + pace * (i + 0.92), m) for i, m in enumerate(midis)]
    sound, _ = render(rng, tones, program=71, seconds=float(seconds))
    notes = [{"midi": m, "start_beat": i, "beats": 1} for i, m in enumerate(midis)]
    return encode(sound, "webm"), {"instrument": "clarinet", "tempo_bpm": 80, "notes": notes}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--takes", type=int, default=400)
    parser.add_argument("--kinds", type=int, default=50, help="takes of each other kind")
    parser.add_argument("--font", type=Path, help="another sound font")
    parser.add_argument("--only", choices=("accuracy", "recorded", "kinds", "speed"))
    parser.add_argument("--recorded", type=int, default=100, help="takes of each kind from recorded notes")
    options = parser.parse_args()
    if options.only in (None, "accuracy"):
        accuracy(takes=options.takes, font=options.font)
    if options.only in (None, "recorded"):
        recorded(takes=options.recorded)
    if options.only in (None, "kinds"):
        kinds(takes=options.kinds, font=options.font)
    if options.only in (None, "speed"):
        for seconds in SECONDS:
            speed(seconds=seconds)


if __name__ == "__main__":
    main()
