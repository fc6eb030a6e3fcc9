"""Tones become sound: a MIDI file of our own, fluidsynth, and soft tonguing cut into what goes on."""

import os
import struct
import subprocess
import tempfile
import wave
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np

from tests.listening.simulator.player import Tone

RATE = 44_100
SOUND_FONT = Path(os.environ.get("BANDROOM_SOUND_FONT", "/usr/share/sounds/sf2/FluidR3_GM.sf2"))
AUDIBLE_DB = 20.0
BEND_RANGE = 2.0
BEND_PER_SEMITONE = 8192 / BEND_RANGE


def render(
    rng: np.random.Generator, tones: Sequence[Tone], *, program: int, seconds: float, font: Path | None = None
) -> tuple[np.ndarray, dict[float, float]]:
    """One channel at RATE, and by key press when each tone is heard to begin.

    Softly tongued repeats of a pitch are one long note with a dip in it, heard at its bottom.
    """
    heard: dict[float, float] = {}
    events: list[tuple[int, bytes]] = []
    dips: list[float] = []
    joined: list[Tone] = []
    for tone in tones:
        if (
            tone.soft
            and joined
            and abs(joined[-1].midi - tone.midi) < 0.5
            and joined[-1].end >= tone.onset - 0.01
        ):
            dips.append(tone.onset)
            heard[tone.onset] = tone.onset
            before = joined[-1]
            joined[-1] = Tone(before.onset, tone.end, before.midi, before.velocity, before.soft, before.scoop)
            continue
        if tone.soft:
            dips.append(tone.onset)
        joined.append(tone)
    for tone in joined:
        key = round(tone.midi)
        heard[tone.onset] = tone.onset + attack_seconds(program, key, font or SOUND_FONT)
        base = tone.midi - key
        events.append((_ms(tone.onset) - 1, _bend(base - min(tone.scoop, 1.4))))
        if tone.scoop:
            length = 0.12
            for step in range(1, 9):
                bend = base - min(tone.scoop, 1.4) * (1 - step / 8)
                events.append((_ms(tone.onset + length * step / 8), _bend(bend)))
        if tone.crack:
            until = tone.onset + 0.08
            high = key + tone.crack
            events.append((_ms(tone.onset), bytes((0x90, high, tone.velocity))))
            events.append((_ms(until), bytes((0x80, high, 0))))
            events.append((_ms(until), bytes((0x90, key, tone.velocity))))
        else:
            events.append((_ms(tone.onset), bytes((0x90, key, tone.velocity))))
        events.append((_ms(tone.end), bytes((0x80, key, 0))))
    sound = _fluidsynth(_midi_file(program, events), seconds, font or SOUND_FONT)
    for at in dips:
        _dip(rng, sound, at)
    return sound, heard


@cache
def attack_seconds(program: int, key: int, font: Path) -> float:
    """From note-on to where a lone note has come within AUDIBLE_DB of the level it reaches.

    Sampled winds speak slowly; a listener hears the note begin here, not at the key press.
    """
    sound = _fluidsynth(
        _midi_file(program, [(100, bytes((0x90, key, 90))), (1100, bytes((0x80, key, 0)))]), 1.3, font
    )
    power = np.convolve(sound**2, np.ones(441) / 441, "same")
    reached = np.percentile(power[4410 : 4410 + 22050], 90)
    first = int(np.argmax(power[4410 - 220 :] > reached * 10 ** (-AUDIBLE_DB / 10)))
    return (first - 220) / RATE


def _dip(rng: np.random.Generator, sound: np.ndarray, at: float) -> None:
    """The tongue touches the reed or lips: the level falls 4 to 14 dB and comes back."""
    depth = 10 ** (-rng.uniform(4, 14) / 20)
    fall, rise = rng.uniform(0.015, 0.04), rng.uniform(0.01, 0.03)
    first, bottom, last = (int(t * RATE) for t in (at - fall, at, at + rise))
    if first < 0 or last >= len(sound):
        return
    sound[first:bottom] *= np.linspace(1, depth, bottom - first) ** 1.0
    sound[bottom:last] *= np.linspace(depth, 1, last - bottom)


def _ms(seconds: float) -> int:
    return max(0, round(seconds * 1000))


def _bend(semitones: float) -> bytes:
    value = int(np.clip(round(8192 + semitones * BEND_PER_SEMITONE), 0, 16383))
    return bytes((0xE0, value & 0x7F, value >> 7))


def _midi_file(program: int, events: list[tuple[int, bytes]]) -> bytes:
    """A standard MIDI file of one track in which a tick is a millisecond."""
    order = {0x80: 0, 0xE0: 1, 0x90: 2}
    events = sorted(events, key=lambda event: (event[0], order[event[1][0]]))
    track = bytearray(b"\x00\xff\x51\x03" + (1_000_000).to_bytes(3, "big") + bytes((0, 0xC0, program)))
    now = 0
    for at, data in events:
        track += _variable(at - now) + data
        now = at
    track += b"\x00\xff\x2f\x00"
    return (
        b"MThd" + struct.pack(">IHHH", 6, 0, 1, 1000) + b"MTrk" + struct.pack(">I", len(track)) + bytes(track)
    )


def _variable(value: int) -> bytes:
    out = bytearray((value & 0x7F,))
    while value := value >> 7:
        out.insert(0, 0x80 | (value & 0x7F))
    return bytes(out)


def _fluidsynth(midi: bytes, seconds: float, font: Path) -> np.ndarray:
    with tempfile.TemporaryDirectory() as folder:
        song, out = Path(folder) / "take.mid", Path(folder) / "take.wav"
        song.write_bytes(midi)
        settings = ["-ni", "-q", "-g", "0.6", "-R", "0", "-C", "0", "-r", str(RATE)]
        subprocess.run(
            ["fluidsynth", *settings, "-F", str(out), str(font), str(song)], check=True, capture_output=True
        )
        with wave.open(str(out)) as file:
            raw = np.frombuffer(file.readframes(file.getnframes()), np.int16).reshape(-1, 2)
    sound = raw.mean(axis=1) / 32768.0
    wanted = int(seconds * RATE)
    sound = np.pad(sound, (0, max(0, wanted - len(sound))))[:wanted]
    return sound / (np.abs(sound).max() + 1e-9) * 0.5
