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
from collections.abc import Callable
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
from tests.listening.simulator.takes import NOBODY, make_take

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
        ("phrases with quick and short notes and vibrato, score edited", "phrase", ("lively",)),
    ):
        counts = scoring.Counts()
        for seed in range(FIRST_REPORT_SEED, FIRST_REPORT_SEED + takes):
            take = make_take(seed, kind=kind, level=levels[seed % len(levels)])
            scoring.add(counts, take, _hear(take))
        print(f"\n{what}")
        for row, figure in scoring.table(counts):
            print(f"{row:<30} {figure}")


def gate(*, takes: int, font: Path | None) -> None:
    """Takes in which nobody plays, of every kind, and quiet beginners who must not be taken for nobody."""
    each = -(-takes // len(NOBODY))
    for kind in NOBODY:
        told = [_called_played(_hear(take)) for take in _takes(each, kind, font)]
        print(f"{'nobody: ' + kind:<30} {sum(told)} notes called played in {each} takes")
    counts, refused = scoring.Counts(), 0
    for take in _takes(takes, "quiet", font):
        evidence = _hear(take)
        refused += not _called_played(evidence)
        scoring.add(counts, take, evidence)
    right = 100 * counts.notes["right"] / counts.notes["all"]
    print(f"{'quiet beginners refused':<30} {refused} of {takes} ({right:.2f} % of their verdicts right)")


def parts(*, takes: int, font: Path | None) -> None:
    """Other instruments' parts and other lines. False ones are counted with the causes."""
    found = [_hear(take)["transposed_semitones"] == take.truth.transposed for take in
             _takes(takes, "transposed", font)]  # fmt: skip
    print(f"{'other part found':<30} {sum(found)} of {takes}")
    lines = [bool(_hear(take)["other_line"]) for take in _takes(takes // 4, "other_line", font)]
    print(f"{'other line noticed':<30} {sum(lines)} of {len(lines)}")


def bars(*, takes: int) -> None:
    """Struck bars by their physics, which ring on over one another."""
    for instrument in ("bells", "xylophone", "marimba"):
        counts = scoring.Counts()
        for seed in range(FIRST_REPORT_SEED, FIRST_REPORT_SEED + takes // 3):
            take = make_take(seed, kind="struck", level=LEVELS[seed % 3], instrument=instrument)
            scoring.add(counts, take, _hear(take))
        right = 100 * counts.notes["right"] / counts.notes["all"]
        print(f"{'ringing ' + instrument:<30} {right:.2f} % of {counts.notes['all']} verdicts right")


def causes(*, takes: int, font: Path | None) -> None:
    """The misreading sentence, with the printed page and from sounding pitches alone.

    A cause is "right" where it is the one named, "both" where another that sounds the same on this very line
    is named first and it second, "same" where only the other is named.
    """
    named: dict[str, Counter[str]] = {"page known": Counter(), "pitches alone": Counter()}
    for kind in CAUSES:
        tallies: dict[str, Counter[str]] = {leg: Counter() for leg in named}
        for take in _takes(takes // len(CAUSES), kind, font, spelled=True):
            if sum(note.verdict == "other_pitch" for note in take.truth.notes) >= 2:
                for leg, score in _pages(take):
                    tallies[leg][_judged(kind, take, _hear(take, score)["misreading"])] += 1
        for leg, tally in tallies.items():
            named[leg] += tally
            print(f"{leg + ', ' + kind:<42} {_counts(tally)}")
    for leg, tally in named.items():
        share = (tally["right"] + tally["both"]) / tally.total()
        print(f"{leg + ', cause named':<42} {100 * share:.1f} % of {tally.total()}")
    false: Counter[str] = Counter()
    for take in _takes(takes, "playing", font, spelled=True):
        for leg, score in _pages(take):
            said = _hear(take, score)
            false[leg] += said["misreading"] is not None and not said["transposed_semitones"]
            false["other parts"] += bool(said["transposed_semitones"])
    for what in (*named, "other parts"):
        print(f"{'random slips, ' + what:<42} {false[what]} named in {takes} takes")


def _pages(take) -> list[tuple[str, dict]]:
    """The score as it is printed, and with nothing but what sounds."""
    bare = [
        {"midi": n["midi"], "start_beat": n["start_beat"], "beats": n["beats"]} for n in take.score["notes"]
    ]
    plain = {key: value for key, value in take.score.items() if key != "fifths"}
    return [("page known", take.score), ("pitches alone", {**plain, "notes": bare})]


def _judged(kind: str, take, said: dict | None) -> str:
    if said is None:
        return "none"
    named, second = _family(said["cause"]), said["other_possible"] and _family(said["other_possible"])
    if named == kind:
        return "right"
    sounding = {(_family(r.cause.value), r.sounding) for r in readings(Score.from_json(take.score))}
    true = next((notes for cause, notes in sounding if cause == kind), None)
    if (named, true) not in sounding:
        return "wrong"
    return "both" if second == kind else "same"


def _counts(tally: Counter) -> str:
    return ", ".join(f"{count} {what}" for what, count in sorted(tally.items()))


def _called_played(evidence: dict) -> int:
    return sum(note["onset_seconds"] is not None for note in evidence["notes"])


def _family(cause: str) -> str:
    return "last_forgotten" if cause.startswith("last_") else cause


def _takes(count: int, kind: str, font: Path | None, *, spelled: bool = False):
    for seed in range(FIRST_REPORT_SEED, FIRST_REPORT_SEED + count):
        yield make_take(seed, kind=kind, level=LEVELS[seed % 3], font=font, spelled=spelled)


def _hear(take, score: dict | None = None) -> dict:
    return hear_take(audio=take.audio, score=Score.from_json(score or take.score)).to_json()


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
    return encode(sound, "webm"), {
        "instrument": "clarinet", "transposition": -2, "tempo_bpm": 80, "notes": notes,
    }  # fmt: skip


def speeds() -> None:
    for seconds in SECONDS:
        speed(seconds=seconds)


LEGS: dict[str, Callable[[argparse.Namespace], None]] = {
    "accuracy": lambda asked: accuracy(takes=asked.takes, font=asked.font),
    "recorded": lambda asked: recorded(takes=asked.recorded),
    "gate": lambda asked: gate(takes=asked.kinds, font=asked.font),
    "parts": lambda asked: parts(takes=asked.kinds, font=asked.font),
    "bars": lambda asked: bars(takes=asked.kinds),
    "causes": lambda asked: causes(takes=asked.kinds, font=asked.font),
    "speed": lambda _asked: speeds(),
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--takes", type=int, default=400)
    parser.add_argument("--recorded", type=int, default=100, help="takes of each kind from recorded notes")
    parser.add_argument("--kinds", type=int, default=200, help="takes of each other kind")
    parser.add_argument("--font", type=Path, help="another sound font")
    parser.add_argument("--only", choices=LEGS)
    asked = parser.parse_args()
    for leg in [asked.only] if asked.only else LEGS:
        LEGS[leg](asked)


if __name__ == "__main__":
    main()
