"""Somebody talks instead of playing: sentences by Debian's espeak-ng, at the pace and pitch of children.

Where it is not installed the seeded formant voice of `room` speaks instead.
"""

import io
import shutil
import subprocess
import wave
from random import Random

import numpy as np

from tests.listening.simulator import room
from tests.listening.simulator.sounding import RATE

SENTENCES = (
    "One, two, ready, go. One and two and three and four and.",
    "Is it on? I think it is recording now. Wait, how do I stop it?",
    "B flat, C, D, E flat, F, G, A, B flat.",
    "Mom, please be quiet, I have to play my line for band.",
    "My reed is broken, so I could not practise this week, sorry.",
    "Line A is in half notes, line B is the same in quarters.",
    "La la la, la la la, do re mi fa so la ti do.",
    "I played it five times and it was better every time, but now the battery is almost empty.",
)
VOICES = ("en+f2", "en+f3", "en+f4", "en+m2", "en+m3", "en-us+f5", "en-us+m7")


def talk(rng: Random, numbers: np.random.Generator, seconds: float) -> np.ndarray:
    """One channel at RATE, filled with speech and short pauses."""
    if shutil.which("espeak-ng") is None:
        return room.speech(numbers, seconds)
    count = int(seconds * RATE)
    sound, at = np.zeros(count), int(rng.uniform(0.1, 0.6) * RATE)
    voice, pace, pitch = rng.choice(VOICES), rng.randrange(110, 190), rng.randrange(40, 95)
    while at < count:
        said = _said(rng.choice(SENTENCES), voice=voice, pace=pace, pitch=pitch)[: count - at]
        sound[at : at + len(said)] += said
        at += len(said) + int(rng.uniform(0.1, 0.8) * RATE)
    return 0.4 * sound / (np.abs(sound).max() + 1e-9)


def _said(sentence: str, *, voice: str, pace: int, pitch: int) -> np.ndarray:
    asked = ["espeak-ng", "-v", voice, "-s", str(pace), "-p", str(pitch), "--stdout", sentence]
    done = subprocess.run(asked, check=True, capture_output=True)
    with wave.open(io.BytesIO(done.stdout)) as file:
        rate = file.getframerate()
        raw = np.frombuffer(file.readframes(file.getnframes()), np.int16) / 32768.0
    places = np.arange(int(len(raw) * RATE / rate)) * rate / RATE
    return np.interp(places, np.arange(len(raw)), raw)
