"""Whole takes by seed: a line, a beginner, a room, a coding, and the truth."""

import os
import pickle
import tempfile
from dataclasses import dataclass
from pathlib import Path
from random import Random

import numpy as np

from tests.listening.simulator import bars, recorded, room, voices
from tests.listening.simulator.coding import encode
from tests.listening.simulator.lines import (
    BY_NAME,
    INSTRUMENTS,
    NATURALS,
    Line,
    key_alters,
    make_line,
    read,
)
from tests.listening.simulator.phrases import make_phrase
from tests.listening.simulator.player import RATES, NoteTruth, Truth, play
from tests.listening.simulator.sounding import RATE, render

NOBODY = ("nobody", "silence", "hum", "noise", "clicks", "speech", "voices")
CAUSES = ("key_forgotten", "last_forgotten", "sign_not_carried", "sign_carried_over_barline")
PART_INTERVALS = (-9, -7, -5, -3, -2, 2, 3, 5, 7, 9, -12, 12)
CACHE = Path(tempfile.gettempdir()) / "bandroom-simulated-takes"
CACHE_EDITION = "3"


@dataclass(frozen=True, slots=True)
class Take:
    seed: int
    kind: str
    level: str
    audio: bytes
    score: dict
    truth: Truth
    instrument: str
    coding: str


def make_take(seed: int, *, kind: str = "playing", level: str = "typical", instrument: str | None = None,
              font: Path | None = None, spelled: bool = False) -> Take:  # fmt: skip
    """A take by seed. Kinds: playing, struck, quiet, transposed, other_line, one of NOBODY, one of CAUSES;
    from recorded notes also "recorded" (a beginner) and "phrase" (a player, and a score edited afterwards).
    """
    name = f"{CACHE_EDITION}-{seed}-{kind}-{level}-{instrument}-{font.stem if font else ''}-{spelled}.pickle"
    kept = CACHE / name
    if kept.exists():
        return pickle.loads(kept.read_bytes())  # noqa: S301  our own cache
    take = _make(seed, kind, level, instrument, font, spelled)
    CACHE.mkdir(exist_ok=True)
    part = kept.with_suffix(f".{os.getpid()}")
    part.write_bytes(pickle.dumps(take))
    part.rename(kept)
    return take


def _make(seed, kind, level, instrument, font, spelled) -> Take:
    rng = Random(f"{seed}/{kind}/{level}/{instrument}")
    numbers = np.random.default_rng(rng.getrandbits(32))
    if kind in ("recorded", "phrase"):
        return _from_recordings(rng, numbers, seed, kind, level, instrument)
    pool = [i for i in INSTRUMENTS if i.name not in ("bells", "xylophone")]
    chosen = BY_NAME[instrument] if instrument else rng.choice(INSTRUMENTS if kind == "playing" else pool)
    line, cause, shift, other = make_line(rng, instrument=chosen), None, 0, None
    if kind == "struck":
        return _struck(rng, numbers, seed, level, instrument)
    if kind in CAUSES:
        line, cause = _line_for_cause(rng, chosen, kind), kind
    elif kind == "transposed":
        low, high = min(line.sounding) - chosen.low + 8, chosen.high + 10 - max(line.sounding)
        shift = rng.choice([s for s in PART_INTERVALS if -low <= s <= high] or [-2])
    elif kind == "other_line":
        other = make_line(rng, instrument=chosen)
    if kind in NOBODY:
        seconds = rng.uniform(8, 25)
        sound = _without_player(rng, numbers, kind, seconds)
        truth = Truth(notes=[NoteTruth("not_heard") for _ in line.notes], nobody=True)
    else:
        tones, truth, seconds = play(
            rng, line, rates=RATES[level], transposed=shift, cause=cause, other=other
        )
        if kind == "quiet":
            for tone in tones:
                tone.velocity = rng.randrange(25, 55)
        sound, heard = render(numbers, tones, program=rng.choice(chosen.programs), seconds=seconds, font=font)
        for note in truth.notes:
            if note.onset is not None:
                note.onset = heard[note.onset]
        truth.extra = [(midi, heard[at], held) for midi, at, held in truth.extra]
        sound = _recorded(rng, numbers, sound, level)
        if kind == "quiet":
            sound = sound * 10 ** (-rng.uniform(15, 30) / 20)
    coding = rng.choice(("webm", "webm", "m4a", "ogg", "mp3", "wav"))
    printed = None if truth.nobody or rng.random() < 0.5 else float(round(truth.tempo_bpm or 80))
    return Take(seed, kind, level, encode(sound, coding), line.as_score(tempo=printed, spelled=spelled),
                truth, chosen.name, coding)  # fmt: skip


def _struck(rng, numbers, seed, level, instrument) -> Take:
    """Bars that ring on over one another, as a mallet player's line A in slow half notes does."""
    chosen = BY_NAME[instrument or rng.choice(sorted(bars.BARS))]
    line = make_line(rng, instrument=chosen)
    tones, truth, seconds = play(rng, line, rates=RATES[level])
    sound = bars.strike_all(rng, numbers, tones, instrument=chosen.name, seconds=seconds)
    sound = _recorded(rng, numbers, sound, level)
    coding = rng.choice(("webm", "webm", "m4a", "ogg", "mp3", "wav"))
    printed = None if rng.random() < 0.5 else float(round(truth.tempo_bpm or 80))
    score = line.as_score(tempo=printed, spelled=False)
    return Take(seed, "struck", level, encode(sound, coding), score, truth, chosen.name, coding)


def _from_recordings(rng, numbers, seed, kind, level, instrument) -> Take:
    chosen = BY_NAME[instrument or rng.choice(sorted(recorded.PLAYED_BY))]
    if kind == "phrase":
        tones, score, truth, seconds = make_phrase(rng, instrument=chosen, lively=level == "lively")
    else:
        line = make_line(rng, instrument=chosen)
        tones, truth, seconds = play(rng, line, rates=RATES[level])
        printed = None if rng.random() < 0.5 else float(round(truth.tempo_bpm or 80))
        score = line.as_score(tempo=printed, spelled=False)
    sound, _, sounding = recorded.render(numbers, tones, instrument=chosen.name, seconds=seconds)
    for note in truth.notes:
        if note.onset is not None:
            note.cents = 100 * (sounding[note.onset] - note.heard_midi)
    if level == "lively" and rng.random() < 0.6:
        sound = room.vibrato(numbers, sound)
    if level == "rough":
        coding = rng.choice(("low webm", "low m4a", "webm", "m4a"))
        sound = _roughly_recorded(rng, numbers, sound)
    else:
        coding = rng.choice(("webm", "webm", "m4a", "ogg", "mp3", "wav"))
        sound = _recorded(rng, numbers, sound, level)
    return Take(seed, kind, level, encode(sound, coding), score, truth, chosen.name, coding)


def _roughly_recorded(rng: Random, numbers: np.random.Generator, sound: np.ndarray) -> np.ndarray:
    for chance, change in ((0.6, room.wavering), (0.6, room.breathy), (0.6, room.hall), (0.4, room.phone)):
        if rng.random() < chance:
            sound = change(numbers, sound)
    if rng.random() < 0.4:
        sound = room.clicks(numbers, sound, count=rng.randrange(1, 6), level=0.15)
    sound = room.noise(numbers, sound, snr_db=rng.choice((35, 28, 22, 18)))
    if rng.random() < 0.4:
        sound = sound * 10 ** (-rng.uniform(10, 30) / 20)
    return np.clip(sound, -1, 1)


def _line_for_cause(rng: Random, chosen, cause: str) -> Line:
    """A line in which the misreading changes at least two notes, and whose signs an editor would print."""
    while True:
        line = make_line(
            rng, instrument=chosen, style=rng.choice(("chromatic", "scale", "skips", "neighbours"))
        )
        if (cause == "last_forgotten" and abs(line.fifths) < 2) or _has_odd_signs(line):
            continue
        wrong = {
            "key_forgotten": lambda line=line: read(line, fifths=0),
            "last_forgotten": lambda line=line: read(
                line, fifths=line.fifths - (1 if line.fifths > 0 else -1)
            ),
            "sign_not_carried": lambda line=line: read(line, carried=False),
            "sign_carried_over_barline": lambda line=line: read(line, over=True),
        }[cause]()
        if sum(a != b for a, b in zip(wrong, line.sounding, strict=True)) >= 2:
            return line


def _has_odd_signs(line: Line) -> bool:
    """A pitch of a white key or of the key signature under another name, as E-sharp or, in a key of flats,
    A-sharp; or one pitch spelled two ways in a bar."""
    key = key_alters(line.fifths)
    own = {(natural + alter) % 12 for natural, alter in zip(NATURALS, key, strict=True)}
    odd = any(
        note.alter != key[note.letter]
        and (note.written % 12 in own or (note.alter != 0 and note.written % 12 in NATURALS))
        for note in line.notes
    )
    spelled = {(note.bar, note.written, note.letter) for note in line.notes}
    return odd or len(spelled) > len({(bar, written) for bar, written, _ in spelled})


def _without_player(choices: Random, rng: np.random.Generator, kind: str, seconds: float) -> np.ndarray:
    sound = rng.normal(size=int(seconds * RATE)) * 10 ** (-rng.uniform(45, 75) / 20)
    if kind == "noise":
        sound = room.noise(rng, sound, snr_db=0) + rng.normal(size=len(sound)) * 0.03
        sound = room.hum(rng, sound)
    elif kind == "speech":
        sound = sound + room.speech(rng, seconds)
        if rng.random() < 0.5:
            sound = room.reverberation(rng, sound)
    elif kind == "voices":
        sound = sound + voices.talk(choices, rng, seconds)
        if rng.random() < 0.5:
            sound = room.reverberation(rng, sound)
    elif kind == "hum":
        sound = room.hum(rng, sound)
    elif kind == "silence":
        sound = np.zeros(len(sound)) if rng.random() < 0.5 else sound * 10 ** (-rng.uniform(20, 40) / 20)
    elif kind == "clicks":
        sound = room.clicks(rng, sound, count=int(seconds * rng.uniform(1, 4)), level=0.5)
    return np.clip(sound, -1, 1)


def _recorded(rng: Random, numbers: np.random.Generator, sound: np.ndarray, level: str) -> np.ndarray:
    chance = {"clean": 0.0, "typical": 0.35, "hard": 0.6}.get(level, 0.35)
    if rng.random() < chance:
        sound = room.reverberation(numbers, sound)
    if rng.random() < 0.6 * chance:
        sound = room.breath(numbers, sound, count=rng.randrange(1, 5))
    if rng.random() < 0.4 * chance:
        sound = room.clicks(numbers, sound, count=rng.randrange(1, 4))
    if rng.random() < chance:
        sound = room.phone(numbers, sound)
    if rng.random() < 0.5 * chance:
        sound = room.hum(numbers, sound)
    worst = {"typical": rng.choice((30, 25, 20)), "hard": rng.choice((30, 20, 15, 10)), "lively": 30}
    snr = worst.get(level, 45)
    sound = room.noise(numbers, sound, snr_db=snr)
    if level == "hard" and rng.random() < 0.15:
        return room.clipped(sound, over=rng.uniform(1.5, 3))
    if rng.random() < 0.5 * chance:
        sound = sound * 10 ** (-rng.uniform(10, 30) / 20)
    return np.clip(sound, -1, 1)
